// Fields and buttons are off until every script of the page listens: what is done before would be lost.
export function ready() {
  // Before htmx begins, which sends nothing of what is off.
  window.addEventListener("DOMContentLoaded", () => { document.getElementById("controls").disabled = false }, true)
}
