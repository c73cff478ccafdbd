// Papers of a job: seen here first, then printed or saved, as their forms say.
import { mark } from "./forms.mjs"
import { SILENT, say } from "./requests.mjs"

export function watchPapers() {
  for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => print())
  for (const box of document.querySelectorAll(".paper")) watch(box)
}

function watch(box) {
  const form = box.querySelector("form[data-paper]")
  if (!form) return
  const shown = box.querySelector("[data-shown]")
  const see = box.querySelector("[data-see]")
  const picture = box.querySelector("[data-picture]")
  const filled = () => new URLSearchParams([...new FormData(form)].filter(([, value]) => value))
  const link = () => { for (const one of box.querySelectorAll("a[data-file]")) one.href = `${one.dataset.file}?${filled()}` }
  async function show() {
    if (picture) {
      const image = document.createElement("img")
      image.src = `${picture.dataset.picture}?${filled()}`
      image.alt = "Drawing of every belt with its dimensions"
      return shown.replaceChildren(image)
    }
    try {
      const answer = await fetch(`${see.dataset.see}?${filled()}`)
      if (!answer.ok) return say(await answer.text())
      const found = await answer.json()
      shown.innerHTML = found.html
      const places = [...form.querySelectorAll("[data-mistake]")]
      const shownFor = (key) => places.some((one) => one.dataset.mistake === key) || key in form.elements ? key : ""
      for (const place of places) {
        place.textContent = [...new Set(Object.entries(found.mistakes).filter(([key]) => shownFor(key) === place.dataset.mistake).map(([, words]) => words))].join("; ")
        if (place.textContent) for (let box = place.closest("details"); box; box = box.parentElement.closest("details")) box.open = true
      }
      mark(form, found.mistakes)
    } catch { say(SILENT) }
  }
  for (const button of [see, picture]) button?.addEventListener("click", show)
  form.addEventListener("submit", (event) => event.preventDefault())
  form.addEventListener("input", link)
  form.addEventListener("change", () => { link(); if (shown?.childElementCount) show() })
  link()
}
