// The hides a job is laid on: taken from the stock by picture, put in the order they are used up.
import { SILENT, Latest, listen, say } from "./requests.mjs"

const box = document.getElementById("hide-choice")
const url = box.dataset.url
const chosen = box.querySelector("ol")
const stock = box.querySelector("[data-stock]")
const list = stock.querySelector("ul")
const [only, find, said] = ["only", "find", "said"].map((name) => stock.querySelector(`[data-${name}]`))
const job = decodeURIComponent(url.split("/").at(-1))

const need = new Latest(async () => {
  const files = [...chosen.children].map((row) => ["hide", row.dataset.file])
  const answer = await fetch(`${url}/need?${new URLSearchParams(files)}`).catch(() => null)
  if (answer?.ok) box.querySelector("[data-need]").textContent = (await answer.json()).words
})

function changed() {
  const files = new Set([...chosen.children].map((row) => row.dataset.file))
  const wanted = find.value.toLowerCase().split(/[\s,]+/).filter(Boolean)
  let shown = 0
  for (const row of list.children) {
    row.hidden = files.has(row.dataset.file) || (only.checked && !("fits" in row.dataset)) || !wanted.every((word) => row.dataset.words.includes(word))
    if (!row.hidden) shown += 1
  }
  if (stock.dataset.loaded) said.textContent = shown ? "" : "No other hide like that."
  box.querySelector("[data-none]").hidden = chosen.children.length > 0
  document.querySelector("[data-chosen]").textContent = [...chosen.querySelectorAll("b")].map((name) => name.textContent).join(", ") || "choose a hide"
  keep()
  ;[...chosen.children].forEach((row, index) => {
    row.querySelector('[data-do="up"]').disabled = index === 0
    row.querySelector('[data-do="down"]').disabled = index === chosen.children.length - 1
  })
}

function take(row) {
  const copy = row.cloneNode(true)
  const value = document.createElement("input")
  Object.assign(value, { type: "hidden", name: "hide", value: row.dataset.file })
  value.setAttribute("form", "nest")
  copy.prepend(value)
  copy.querySelector("[data-order]").hidden = false
  copy.querySelector("[data-choose]").hidden = true
  chosen.append(copy)
}

// What is chosen stays in this tab until it is laid out, or another layout brings other hides.
const served = [...chosen.children].map((row) => row.dataset.file).join("\n")
const key = `hides of ${url}`
const files = () => [...chosen.children].map((row) => row.dataset.file).join("\n")
const keep = () => sessionStorage.setItem(key, JSON.stringify([served, files()]))

async function chosenBefore() {
  const [then, kept] = JSON.parse(sessionStorage.getItem(key) ?? "[]")
  if (then !== served || kept === served) return
  const wanted = kept ? kept.split("\n") : []
  if (wanted.some((file) => !row(chosen, file))) await load()
  for (const file of wanted) {
    const there = row(chosen, file)
    if (there) chosen.append(there)
    else if (row(list, file)) take(row(list, file))
  }
  for (const one of [...chosen.children]) if (!wanted.includes(one.dataset.file)) one.remove()
  changed()
  need.ask(true)
}

const row = (within, file) => [...within.children].find((one) => one.dataset.file === file)

const DOES = {
  up: (row) => row.previousElementSibling?.before(row),
  down: (row) => row.nextElementSibling?.after(row),
  out: (row) => row.remove(),
  take,
  remnants() { chosen.prepend(...[...chosen.children].filter((row) => "remnant" in row.dataset)) },
}

box.addEventListener("click", (event) => {
  const button = event.target.closest("[data-do]")
  if (!button) return
  DOES[button.dataset.do](button.closest("li"))
  if (["up", "down"].includes(button.dataset.do)) button.focus()
  changed()
  need.ask(true)
})

async function load() {
  list.replaceChildren()
  let [number, left] = ["", 1]
  while (left) {
    const answer = await fetch(`${url}/hides?after=${number}`)
    if (!answer.ok) return say(await answer.text())
    const found = await answer.json()
    list.insertAdjacentHTML("beforeend", found.rows)
    ;({ left, number } = found)
    said.textContent = left ? `${left} hides not looked at yet …` : ""
    changed()
  }
  stock.dataset.loaded = "yes"
  stock.querySelector("[data-stock-size]").textContent = list.children.length === 1 ? "1 hide" : `${list.children.length} hides`
  changed()
}

const again = () => { if (stock.open) load().catch(() => say(SILENT)) }
stock.addEventListener("toggle", () => { if (!stock.dataset.loaded) again() })
for (const field of [only, find]) field.addEventListener("input", changed)
find.addEventListener("keydown", (event) => { if (event.key === "Enter") event.preventDefault() })
listen((heard) => {
  if (heard.kind === "stock") { delete stock.dataset.loaded; again() }
  if (heard.kind === "stock" || (heard.kind === "changed" && heard.job === job)) need.ask(true)
})
chosenBefore().catch(() => {}).finally(() => { changed(); if (!stock.dataset.loaded) again() })  // opened already
