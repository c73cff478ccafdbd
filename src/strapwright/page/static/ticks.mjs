// A bench card's ticks: kept by the program as they are made, and seen on every device that has it open.
import { listen, send } from "./talk.mjs"

const job = document.body.dataset.job
const boxes = [...document.querySelectorAll("input[data-step]")]

function count() {
  const done = boxes.filter((box) => box.checked).length
  document.getElementById("ticked").textContent = `${done} of ${boxes.length} ticked`
}

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
