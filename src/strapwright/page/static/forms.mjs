// Fields that draft as one types, after a moment's rest, and are written when they are left.
import { Latest, listen, say, send } from "./talk.mjs"

const REST = 60

export function watchForms() {
  watch(document)
  document.body.addEventListener("htmx:afterSettle", (event) => watch(event.target.closest("details") ?? event.target))
  const job = document.querySelector("[data-job]")?.dataset.job
  if (job) listen((said) => { if (said.kind === "changed" && said.job === job && said.digest) elsewhere(said.digest) })
  const file = document.querySelector("[data-file]")?.dataset.file
  if (file) listen((said) => { if (said.kind === "changed" && said.job === "" && said.files?.[file]) elsewhere(said.files[file]) })
  for (const box of document.querySelectorAll(".strap[data-url]")) {
    box.addEventListener("toggle", async () => { if (box.open) show(box, await (await fetch(box.dataset.url)).json()) })
  }
}

function watch(within) {
  for (const form of within.querySelectorAll("form[data-url]:not([data-watched], [data-save])")) new Watched(form)
}

class Watched {
  constructor(form) {
    this.form = form
    form.dataset.watched = "yes"
    this.box = form.closest(".belt, .about")
    this.latest = new Latest(() => this.draft())
    form.addEventListener("input", () => { fit(form); clearTimeout(this.resting); this.resting = setTimeout(() => this.latest.ask(true), REST) })
    form.addEventListener("change", () => { fit(form); clearTimeout(this.resting); this.write = true; this.latest.ask(true) })
    form.addEventListener("submit", (event) => event.preventDefault())
    if (this.box.matches(".belt")) document.addEventListener("leather-changed", () => { if (this.box.open) this.load() })
    fit(form)
    // Typed before this was loaded.
    if ([...form.elements].some((one) => one.value !== one.defaultValue && one.matches("input:not([type=radio])"))) {
      this.write = true
      this.latest.ask(true)
    }
  }

  async load() { show(this.box, await (await fetch(this.form.dataset.url)).json()) }

  async draft() {
    const writing = this.write
    this.write = false
    const found = await send(`${this.form.dataset.url}?write=${writing ? 1 : 0}`, new URLSearchParams(new FormData(this.form)))
    if (!found) return
    if (found.conflict) return differ(this.box, found.conflict)
    for (const one of document.querySelectorAll('input[name="digest"]')) one.value = found.digest
    show(this.box, found)
    mark(this.form, found.mistakes)
    if (found.written) {
      for (const [id, words] of [["undo", found.steps[0]], ["redo", found.steps[1]]]) {
        const button = document.getElementById(id)
        button.disabled = !words
        button.title = words
      }
      if (this.box.matches(".about")) document.dispatchEvent(new Event("leather-changed"))
    }
  }
}

// Show the fields that belong to what is chosen.
export function fit(form) {
  const value = (key) => {
    const field = form.elements.namedItem(key)
    if (!field) return ""
    if (field.type === "checkbox") return field.checked ? "yes" : ""
    if (field instanceof RadioNodeList) return field.value
    return field.value || field.dataset.default || field.placeholder || ""
  }
  for (const field of form.querySelectorAll("[data-when]")) {
    field.hidden = !field.dataset.when.split(";").every((one) => {
      const [key, wanted] = one.split("=")
      return wanted.split("|").includes(value(key))
    })
  }
  for (const group of form.querySelectorAll(".group")) group.hidden = ![...group.querySelectorAll(".field")].some((one) => !one.hidden)
}

// Mark the fields that are wrong.
export function mark(form, mistakes) {
  for (const field of form.elements) {
    const wrong = Boolean(mistakes[field.name])
    field.classList?.toggle("wrong-value", wrong)
    if (wrong) field.setAttribute("aria-invalid", "true")
    else field.removeAttribute?.("aria-invalid")
  }
}

// The job's file was written: by this tab, or in another one.
let touched = false
document.addEventListener("input", () => { touched = true })
function elsewhere(digest) {
  setTimeout(() => {
    const held = document.querySelector('input[name="digest"]')?.value
    if (held === digest) touched = false
    else if (!touched) location.reload()
    else say("This was changed in another tab. What you have here is not lost; leave the field to compare.")
  }, 400)
}

export function show(box, found) {
  for (const place of box.querySelectorAll("[data-mistake]")) place.textContent = ""
  for (const [key, words] of Object.entries(found.mistakes)) {
    const place = find(box, `[data-mistake="${CSS.escape(key)}"]`, `[data-mistake^="${CSS.escape(key)}."]`, '[data-mistake=""]')
    place.textContent = place.textContent ? `${place.textContent}; ${words}` : words
  }
  if (found.summary === undefined) return
  box.querySelector("[data-summary]").textContent = found.summary || "not ready yet"
  if (!found.drawing) return
  box.querySelector("[data-drawing]").innerHTML = found.drawing
  box.querySelector("[data-findings]").replaceChildren(...found.findings.map(([severity, what, todo]) => {
    const line = document.createElement("li")
    line.className = severity
    const head = document.createElement("b")
    head.textContent = severity
    line.append(head, ` ${what} ${todo}`)
    return line
  }))
  box.querySelector("[data-working]").replaceChildren(...found.working.map((cells) => {
    const row = document.createElement("tr")
    cells.forEach((text, index) => { const cell = document.createElement(index ? "td" : "th"); cell.textContent = text; row.append(cell) })
    return row
  }))
}

function find(box, ...ways) {
  for (const way of ways) { const place = box.querySelector(way); if (place) return place }
  return box
}

// The file was changed behind this page: show both, field by field, and write nothing.
export function differ(box, fields) {
  say("The file was changed by another program or tab. Nothing of yours is written yet.")
  box.querySelector(".conflict")?.remove()
  const told = document.createElement("div")
  told.className = "conflict"
  told.setAttribute("role", "alert")
  const head = document.createElement("p")
  head.textContent = fields.length ? "In the file now, and as you have it here:" : "The file was changed elsewhere; what you have here says the same."
  const list = document.createElement("table")
  for (const [label, file, here] of fields) {
    const row = list.insertRow()
    for (const text of [label, file || "nothing", here || "nothing"]) row.insertCell().textContent = text
  }
  const again = document.createElement("a")
  again.href = location.href
  again.textContent = "Load the file's version"
  told.append(head, list, again)
  box.querySelector("form").before(told)
}
