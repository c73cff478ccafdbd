// Forms of the shop that are saved by their button: drafted as one types, with what follows shown beside.
import { differ, fit, mark, show } from "./forms.mjs"
import { whenOn } from "./page_load.mjs"
import { Latest, send } from "./requests.mjs"

const REST = 60

export function watchShop() {
  for (const form of document.querySelectorAll("form[data-save]")) new Saved(form)
  for (const plot of document.querySelectorAll(".plot")) plot.scrollLeft = plot.scrollWidth  // the newest first
}

class Saved {
  constructor(form) {
    this.form = form
    form.dataset.watched = "yes"
    this.box = form.closest("[data-box]")
    const latest = new Latest(() => this.draft())
    form.addEventListener("input", () => { fit(form); clearTimeout(this.resting); this.resting = setTimeout(() => latest.ask(true), REST) })
    form.addEventListener("submit", (event) => { event.preventDefault(); clearTimeout(this.resting); this.saving = true; latest.ask(true) })
    fit(form)
    whenOn(() => latest.ask(true))
  }

  async draft() {
    const saving = this.saving
    this.saving = false
    const { url, query } = this.form.dataset
    const found = await send(`${url}?write=${saving ? 1 : 0}${query ?? ""}`, new URLSearchParams(new FormData(this.form)))
    if (!found) return
    if (found.conflict) return differ(this.box, found.conflict)
    if (found.again) return location.reload()
    if (found.to) return location.assign(found.to)
    if (saving && found.digest) this.form.elements.namedItem("digest").value = found.digest
    show(this.box, { mistakes: found.mistakes })
    mark(this.form, found.mistakes)
    if (found.asked) for (const one of this.form.querySelectorAll("[data-question]")) one.hidden = !found.asked.includes(one.dataset.question)
    if (found.usual_name !== undefined) this.form.elements.namedItem("called")?.setAttribute("placeholder", found.usual_name)
    for (const key of ["drawing", "working", "findings"]) {
      const place = this.box.querySelector(`[data-${key}]`)
      if (place && found[key] !== undefined) place.innerHTML = found[key]
    }
    const summary = this.box.querySelector("[data-summary]")
    if (summary) summary.textContent = found.summary ?? ""
    if (saving) this.form.querySelector('[aria-invalid="true"]')?.focus()
  }
}
