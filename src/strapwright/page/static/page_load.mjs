// A page as it is loaded: switched on once all listens, and what was folded, answered or pressed before stands again.

// Fields and buttons are off until every script of the page listens: what is done before would be lost.
export function ready() {
  // Before htmx begins, which sends nothing of what is off.
  window.addEventListener("DOMContentLoaded", () => { document.getElementById("controls").disabled = false }, true)
}

// Do what reads a form once it is on: one that is off has no values.
export function whenOn(work) {
  if (document.getElementById("controls").disabled) window.addEventListener("DOMContentLoaded", work)
  else work()
}

const called = (field) => field.name || field.textContent.trim()

// Load the sheet again; who works by keys goes on from the same button.
export function reload() {
  const field = document.activeElement
  if (field.form?.id) sessionStorage.setItem("goes on from", `${field.form.id}\n${called(field)}`)
  location.reload()
}

export function goOn() {
  const [form, field] = (sessionStorage.getItem("goes on from") ?? "").split("\n")
  sessionStorage.removeItem("goes on from")
  if (form) whenOn(() => [...(document.getElementById(form)?.elements ?? [])].find((one) => called(one) === field)?.focus({ preventScroll: true }))
}

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
