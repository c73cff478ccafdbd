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
