// A hide from a photograph: the form is sent with the file; what is wrong stands beside its field.
import { SILENT, post } from "./requests.mjs"

const form = document.getElementById("photograph")
const file = form.elements.photo
const drop = form.querySelector(".drop")
const status = document.getElementById("photo-said")
const progress = document.getElementById("photo-progress")
const button = form.querySelector("button.main")
const most = Number(form.dataset.most)

function told(mistakes) {
  for (const place of form.querySelectorAll("[data-mistake]")) {
    const words = mistakes[place.dataset.mistake] ?? ""
    place.textContent = words
    const field = form.elements[place.dataset.mistake]
    field.classList.toggle("wrong-value", Boolean(words))
    field.setAttribute("aria-invalid", String(Boolean(words)))
  }
  const first = form.querySelector('[aria-invalid="true"]')
  first?.focus({ preventScroll: true })
  first?.scrollIntoView({ block: "center" })
}

function should() {
  const paper = form.elements.paper.selectedOptions[0].dataset
  for (const place of form.querySelectorAll("[data-should]")) place.textContent = paper[place.dataset.should]
}

function working(words) {
  status.textContent = words
  button.disabled = Boolean(words)
  progress.hidden = !words
}

async function measure() {
  const photo = file.files[0]
  if (!photo) return told({ photo: "choose a photograph" })
  if (photo.size > most) return told({ photo: `${photo.name}: larger than ${most / 1e6} MB; save it as a JPEG` })
  told({})
  working("The photograph is measured; that takes some seconds …")
  const answer = await fetch("/leather/photograph", { method: "POST", headers: { "x-bench-post": post }, body: new FormData(form) }).catch(() => null)
  const found = answer?.ok ? await answer.json() : { mistakes: { photo: answer ? await answer.text() : SILENT } }
  if (found.address) { location.assign(found.address); return }
  working("")
  told(found.mistakes)
}

form.addEventListener("submit", (event) => { event.preventDefault(); if (!button.disabled) measure() })
form.elements.paper.addEventListener("change", should)
for (const kind of ["dragover", "dragleave", "drop"]) {
  drop.addEventListener(kind, (event) => {
    event.preventDefault()
    drop.classList.toggle("over", kind === "dragover")
    if (kind === "drop" && event.dataTransfer.files.length) { file.files = event.dataTransfer.files; told({}) }
  })
}
addEventListener("pageshow", () => { working(""); should() })
