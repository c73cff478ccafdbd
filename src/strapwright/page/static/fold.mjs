// Parts of a sheet that fold stay as they were left, in this tab, when the page is loaded again.
export function keepFolds() {
  for (const part of document.querySelectorAll("details[data-keep]")) {
    const key = `fold ${location.pathname} ${part.dataset.keep}`
    const kept = sessionStorage.getItem(key)
    if (kept) part.open = kept === "open"
    part.addEventListener("toggle", () => sessionStorage.setItem(key, part.open ? "open" : "shut"))
  }
}

// What a new job was begun with stays while a buckle is measured for it.
export function keepAnswers() {
  const form = document.querySelector("form.start")
  if (!form) return
  const kept = new URLSearchParams(sessionStorage.getItem("new job") ?? "")
  sessionStorage.removeItem("new job")
  const measured = new URLSearchParams(location.search).has("buckle")
  for (const [name, value] of kept) {
    if (name === "buckle" && measured) continue
    for (const one of form.querySelectorAll(`[name="${CSS.escape(name)}"]`)) {
      if (one.type === "radio") one.checked = one.value === value
      else one.value = value
    }
  }
  document.addEventListener("click", (event) => {
    if (event.target.closest(".start .more a")) sessionStorage.setItem("new job", new URLSearchParams(new FormData(document.querySelector("form.start"))))
  })
}
