// The hides in stock: found as one types, the rest of a large stock fetched as it is worked out.
import { SILENT, listen, say } from "./requests.mjs"

const list = document.getElementById("stock")
const field = document.getElementById("find-hide")
const words = document.getElementById("stock-said")
const text = document.getElementById("hide-text")

function find() {
  const wanted = field.value.toLowerCase().split(/[\s,]+/).filter(Boolean)
  let shown = 0
  for (const row of list.children) {
    row.hidden = !wanted.every((word) => row.dataset.words.includes(word))
    if (!row.hidden) shown += 1
  }
  if (Number(list.dataset.left)) return
  if (wanted.length) words.textContent = shown ? `${shown} of ${list.children.length} shown.` : "None is called or made like that."
  else if (list.children.length) words.textContent = ""
}

async function more() {
  while (Number(list.dataset.left)) {
    const answer = await fetch(`/leather/rows?after=${list.dataset.number}`)
    if (!answer.ok) return say(await answer.text())
    const found = await answer.json()
    list.insertAdjacentHTML("beforeend", found.rows)
    Object.assign(list.dataset, { left: found.left, number: found.number })
    words.textContent = found.left ? `${list.children.length} hides worked out, ${found.left} to go …` : ""
    window.htmx?.process(list)
    find()
  }
}

if (list) {
  field.addEventListener("input", find)
  listen((said) => { if (said.kind === "stock" && !field.value) location.reload() })
  find()
  more().catch(() => say(SILENT))
}

// A hide's file as text: what is wrong is listed below it, and nothing typed is lost.
text?.addEventListener("htmx:responseError", (event) => {
  const said = document.getElementById("text-said")
  said.replaceChildren(...event.detail.xhr.responseText.split("\n").map((line) => {
    const item = document.createElement("li")
    item.className = "mistake"
    item.textContent = line
    return item
  }))
  event.stopPropagation()
})
