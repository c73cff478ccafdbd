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
