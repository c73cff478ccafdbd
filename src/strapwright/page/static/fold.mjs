// Parts of a sheet that fold stay as they were left, in this tab, when the page is loaded again.
export function keepFolds() {
  for (const part of document.querySelectorAll("details[data-keep]")) {
    const key = `fold ${location.pathname} ${part.dataset.keep}`
    const kept = sessionStorage.getItem(key)
    if (kept) part.open = kept === "open"
    part.addEventListener("toggle", () => sessionStorage.setItem(key, part.open ? "open" : "shut"))
  }
}
