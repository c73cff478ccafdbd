// A table of orders: which column is what is chosen here, then its lines become belts.
import { goTo } from "./forms.mjs"
import { say, send } from "./requests.mjs"

export function watchOrders() {
  const box = document.getElementById("orders")
  if (!box) return
  const chosen = box.querySelector("input[type=file]")
  chosen.addEventListener("click", () => { chosen.value = "" }) // the same file, mended, is chosen anew
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
  const told = document.createElement("div")
  told.setAttribute("role", "alert")
  add.addEventListener("click", async () => {
    const answer = await send(`${box.dataset.url}/add`, { text, keys: selects.map((one) => one.value) })
    if (!answer) return
    if (!answer.wrong.length) return goTo(`${location.pathname}?show=${answer.show}`)
    told.replaceChildren(wrongLines(found.names, answer.wrong))
    told.scrollIntoView({ block: "nearest" })
  })
  for (const select of selects) select.addEventListener("change", () => told.replaceChildren())
  place.replaceChildren(table, add, told)
}

// The lines that are wrong, each mistake below its cell.
function wrongLines(names, wrong) {
  const table = document.createElement("table")
  table.className = "wrong-lines"
  const caption = table.createCaption()
  caption.textContent = `Nothing was added: ${wrong.length === 1 ? "this is" : "these are"} to be mended in the table first.`
  const head = table.createTHead().insertRow()
  for (const name of ["Line", ...names]) { const cell = document.createElement("th"); cell.scope = "col"; cell.textContent = name; head.append(cell) }
  const body = table.createTBody()
  const rows = new Map()
  for (const { line, cells, column, words } of wrong) {
    let row = rows.get(line)
    if (!row) {
      row = body.insertRow()
      rows.set(line, row)
      const first = document.createElement("th")
      first.scope = "row"
      first.textContent = line
      row.append(first)
      names.forEach((_, place) => { row.insertCell().textContent = cells[place] ?? "" })
    }
    const said = document.createElement("p")
    said.className = "mistake"
    said.textContent = words
    row.cells[column + 1].append(said)
  }
  return table
}
