// Fields that draft as one types, after a moment's rest, and are written when they are left.
import { Latest, listen, say, send } from "./requests.mjs"

const REST = 60

export function watchForms() {
  watch(document)
  document.body.addEventListener("htmx:afterSettle", (event) => watch(event.target.closest("details") ?? event.target))
  const job = document.querySelector("[data-job]")?.dataset.job
  if (job) listen((said) => { if (said.kind === "changed" && said.job === job && said.digest) elsewhere(said.digest) })
  const file = document.querySelector("[data-file]")?.dataset.file
  if (file) listen((said) => { if (said.kind === "changed" && said.job === "" && said.files?.[file]) elsewhere(said.files[file]) })
  watchWorking()
  comeTo(document.querySelector("[data-come]"))
}

// Come to what is new among the belts: it stands open, its own name first.
function comeTo(box) {
  if (!box) return
  history.replaceState(null, "", location.pathname)
  for (let one = box; one; one = one.parentElement.closest("details")) one.open = true
  const come = () => box.scrollIntoView({ block: "start" })
  come()
  box.addEventListener("htmx:afterSettle", come, { once: true })  // it is higher then
  box.querySelector("summary").focus({ preventScroll: true })
}

// A buckle measured for a belt a moment ago is put on it, as if it were chosen.
function pick(form) {
  const name = form.box.dataset.come
  if (!name) return
  form.box.dataset.come = ""
  const kept = form.form.elements.namedItem("buckle.way")
  if (kept) kept.value = "name"
  form.cure("buckle", name)
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
    if (this.box.matches(".belt")) tally(this.box)
    for (const place of [form, this.box.querySelector("[data-rest]")]) {
      place?.addEventListener("click", (event) => { const one = event.target.closest("[data-cure]"); if (one) this.cure(one.dataset.cure, one.dataset.value) })
    }
    if (this.box.matches(".belt")) document.addEventListener("leather-changed", () => { if (this.box.open) this.load() })
    fit(form)
    pick(this)
  }

  // Put a value into its field, as a person would.
  cure(key, value) {
    const field = this.form.elements.namedItem(key)
    if (!field) return
    const one = field instanceof RadioNodeList ? [...field].find((each) => each.value === value) : field
    if (!one) return
    if (one.type === "checkbox") one.checked = value === "yes"
    else if (one.type === "radio") one.checked = true
    else one.value = value
    reveal(one)
    one.dispatchEvent(new Event("change", { bubbles: true }))
  }

  async load() { show(this.box, await (await fetch(this.form.dataset.url)).json()) }

  async draft() {
    const writing = this.write
    this.write = false
    asked += 1
    const found = await send(`${this.form.dataset.url}?write=${writing ? 1 : 0}`, new URLSearchParams(new FormData(this.form))).finally(() => { asked -= 1 })
    if (!found) return
    if (found.conflict) return differ(this.box, found.conflict)
    for (const one of document.querySelectorAll('input[name="digest"]')) one.value = found.digest
    show(this.box, found)
    for (const field of this.form.elements) {
      if (field === document.activeElement || field.value !== field.defaultValue) field.closest(".field")?.querySelector("[data-also]")?.remove()
    }
    mark(this.form, found.mistakes)
    if (found.written) {
      own.add(found.digest)
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
let asked = 0  // posts of this tab that are not answered yet
let leaving = false
export function goTo(address) { leaving = true; location.assign(address) }
document.body.addEventListener("htmx:beforeRequest", (event) => { if (event.detail.requestConfig.verb === "post") asked += 1 })
document.body.addEventListener("htmx:beforeOnLoad", ({ detail: { xhr } }) => { if (xhr.getResponseHeader("HX-Refresh") || xhr.getResponseHeader("HX-Redirect")) leaving = true })
document.body.addEventListener("htmx:afterRequest", (event) => { if (event.detail.requestConfig.verb === "post") asked -= 1 })
const own = new Set()  // digests of what this tab has written
document.addEventListener("input", () => { touched = true })
function elsewhere(digest) {
  setTimeout(() => {
    if (leaving) return  // another page is on its way: a reload now would be in its place
    if (asked) return elsewhere(digest)
    const held = document.querySelector('input[name="digest"]')?.value
    if (held === digest) touched = false
    else if (own.has(digest)) return  // written here, and again since
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
  if (found.title) box.querySelector("[data-title]").textContent = found.title
  if (found.who !== undefined) box.querySelector("[data-who]").textContent = found.who
  if (!found.drawing) {
    const whole = box.querySelector('[data-mistake=""]')
    if (!whole.textContent && box.querySelector("[data-drawing] svg")) whole.textContent = "The drawing is from before this mistake."
    return
  }
  box.querySelector("[data-drawing]").innerHTML = found.drawing
  box.querySelector("[data-figures]").innerHTML = found.figures
  box.querySelector("[data-rest]").innerHTML = found.rest
  for (const place of box.querySelectorAll("[data-found]")) {
    const said = found.beside[place.dataset.found] ?? ""
    if (place.dataset.said !== said) place.innerHTML = place.dataset.said = said
  }
  tally(box)
  box.querySelector("[data-working]").replaceChildren(...found.working.map((cells) => {
    const row = document.createElement("tr")
    cells.forEach((text, index) => { const cell = document.createElement(index ? "td" : "th"); cell.textContent = text; row.append(cell) })
    return row
  }))
}

// Say which groups of fields have findings, and lead there from below the drawing.
function tally(box) {
  const ways = []
  for (const group of box.querySelectorAll(".group")) {
    const count = group.querySelectorAll("[data-found] li").length
    group.querySelector("[data-tally]").textContent = count ? `${count} to look at` : ""
    if (!count) continue
    const way = document.createElement("button")
    way.type = "button"
    way.textContent = `${group.querySelector("summary").firstChild.textContent.trim()} (${count})`
    way.addEventListener("click", () => reveal(group.querySelector("[data-found] li").closest(".field").querySelector("input, select")))
    ways.push(way)
  }
  const place = box.querySelector("[data-elsewhere]")
  place.hidden = !ways.length
  place.replaceChildren("To look at beside the fields: ", ...ways)
}

function reveal(field) {
  for (let above = field.closest("details"); above; above = above.parentElement.closest("details")) above.open = true
  field.focus({ preventScroll: true })
  field.closest(".field").scrollIntoView({ block: "center" })
}

// A figure, clicked, shows its working.
function watchWorking() {
  const dialog = document.getElementById("working")
  if (!dialog) return
  let box
  async function open(figure) {
    box = figure.closest(".belt")
    const form = box.querySelector("form[data-url]")
    const data = new URLSearchParams(new FormData(form))
    data.set("figure", figure.dataset.figure)
    data.set("title", figure.textContent)
    const found = await send(`${form.dataset.url}/working`, data)
    if (!found) return
    dialog.innerHTML = found.html
    dialog.showModal()
  }
  document.addEventListener("click", (event) => {
    const one = event.target.closest("[data-figure]")
    if (one) open(one)
    const way = event.target.closest("[data-way]")
    if (way) reveal(document.getElementById(way.dataset.way))
  })
  document.addEventListener("keydown", (event) => {
    if (!event.target.matches?.("text[data-figure]") || !["Enter", " "].includes(event.key)) return
    event.preventDefault()
    open(event.target)
  })
  dialog.addEventListener("click", (event) => {
    const go = event.target.closest("[data-go]")
    if (go || event.target === dialog || event.target.closest("[data-close]")) dialog.close()
    if (go) {
      const key = go.dataset.go
      const field = key.startsWith("job-") ? document.getElementById(key) : box.querySelector("form[data-url]").elements.namedItem(key)
      reveal(field instanceof RadioNodeList ? [...field].find((one) => one.checked) ?? field[0] : field)
    }
  })
}

function find(box, ...ways) {
  for (const way of ways) { const place = box.querySelector(way); if (place) return place }
  return box
}

// The file was changed behind this page: show both, field by field, and write nothing.
export function differ(box, fields) {
  say("The file was changed by another program or tab. Nothing of yours is written yet.")
  box.querySelector(".conflict")?.remove()
  for (const place of box.querySelectorAll("[data-mistake]")) place.textContent = ""  // of what was typed before
  mark(box.querySelector("form"), {})
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
