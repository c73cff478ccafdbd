// A table of orders: which column is what is chosen here, then its lines become belts.
import { say, send } from "./talk.mjs"

export function watchOrders() {
  const box = document.getElementById("orders")
  if (!box) return
  const chosen = box.querySelector("input[type=file]")
  chosen.addEventListener("change", async () => {
    const file = chosen.files[0]
    if (!file) return
    if (file.size > 4e6) return say("The table is larger than 4 MB; split it.")
    const text = await file.text()
    const found = await send(`${box.dataset.url}/read`, { text })
    if (found) choose(box, text, found)
  })
}

function choose(box, text, found) {
  const place = box.querySelector("[data-columns]")
  const table = document.createElement("table")
  const selects = found.names.map((name, index) => {
    const select = document.createElement("select")
    select.setAttribute("aria-label", `What is in the column ${name}`)
    select.append(new Option("leave out", ""), ...found.choices.map(([key, words]) => new Option(words, key)))
    select.value = found.keys[index]
    return select
  })
  const head = table.createTHead()
  for (const cells of [found.names, selects]) {
    const row = head.insertRow()
    for (const cell of cells) row.insertCell().append(cell)
  }
  const body = table.createTBody()
  for (const line of found.rows) {
    const row = body.insertRow()
    for (const cell of line) row.insertCell().textContent = cell
  }
  const add = document.createElement("button")
  add.type = "button"
  add.className = "main"
  add.textContent = "Add its lines as belts"
  const told = document.createElement("ul")
  told.className = "wrong mistake"
  told.setAttribute("role", "alert")
  add.addEventListener("click", async () => {
    const answer = await send(`${box.dataset.url}/add`, { text, keys: selects.map((one) => one.value) })
    if (!answer) return
    if (!answer.wrong.length) return location.reload()
    told.replaceChildren(...answer.wrong.map((words) => { const line = document.createElement("li"); line.textContent = words; return line }))
  })
  place.replaceChildren(table, told, add)
}
