// A bench card's ticks: kept by the program as they are made, and seen on every device that has it open.
import { ready } from "./page_load.mjs"
import { listen, send } from "./requests.mjs"

const job = document.body.dataset.job
const boxes = [...document.querySelectorAll("input[data-step]")]

const sheets = [...document.querySelectorAll("main section")]

const done = (some) => `${some.filter((box) => box.checked).length} of ${some.length} ticked`

function count() {
  document.getElementById("ticked").textContent = done(boxes)
  for (const sheet of sheets) {
    const own = [...sheet.querySelectorAll("input[data-step]")]
    sheet.querySelector("[data-done]").textContent = own.length ? done(own) : ""
  }
}

// Each sheet of the card folds to its heading; on a phone only one stands open to begin with.
function fold(sheet, index) {
  const head = sheet.querySelector("h2")
  const button = document.createElement("button")
  const told = document.createElement("span")
  button.type = "button"
  told.dataset.done = ""
  button.append(...head.childNodes, told)
  head.append(button)
  const key = `sheet ${location.pathname} ${sheet.id}`
  const show = (open) => { sheet.classList.toggle("folded", !open); button.setAttribute("aria-expanded", String(open)) }
  const named = () => location.hash === `#${CSS.escape(sheet.id)}` || location.hash === `#${encodeURIComponent(sheet.id)}`
  const kept = sessionStorage.getItem(key)
  show(named() || (kept ? kept === "open" : index === 0 || !matchMedia("(max-width: 48rem)").matches))
  button.addEventListener("click", () => {
    const open = sheet.classList.contains("folded")
    show(open)
    sessionStorage.setItem(key, open ? "open" : "shut")
  })
  addEventListener("hashchange", () => { if (named()) { show(true); sheet.scrollIntoView() } })
}
sheets.forEach(fold)

for (const box of boxes) {
  box.addEventListener("change", async () => {
    const kept = await send(`/job/${encodeURIComponent(job)}/card/ticks`, { sheet: box.dataset.sheet, step: box.dataset.step, done: box.checked })
    if (!kept) box.checked = !box.checked
    else box.removeAttribute("data-fell")
    count()
  })
}
// What is scrolled sideways is so with the keys too.
for (const one of document.querySelectorAll(".wide")) if (one.scrollWidth > one.clientWidth) one.tabIndex = 0
document.querySelector("[data-print]").addEventListener("click", () => print())
listen((said) => {
  if (said.job !== job) return
  if (said.kind === "changed") location.reload()
  if (said.kind !== "card") return
  for (const box of boxes) {
    if (box.dataset.sheet !== said.sheet || box.dataset.step !== said.step) continue
    box.checked = said.done
    box.removeAttribute("data-fell")
  }
  count()
})
count()
ready()
