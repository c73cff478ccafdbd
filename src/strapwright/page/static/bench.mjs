// What every page shares: how a post is sent, what the program says, and the forms that need no more than that.
import { watchCut } from "./cut.mjs"
import { watchForms } from "./forms.mjs"
import { openLayout, watchLayouts } from "./layout.mjs"
import { watchOrders } from "./orders.mjs"
import { watchPapers } from "./papers.mjs"
import { goOn, keepAnswers, keepFolds, ready, reload } from "./page_load.mjs"
import { watchShop } from "./shop.mjs"
import { SILENT, post, say, listen } from "./requests.mjs"

document.body.addEventListener("htmx:configRequest", (event) => { event.detail.headers["x-bench-post"] = post })
document.body.addEventListener("htmx:responseError", (event) => say(event.detail.xhr.responseText))
document.body.addEventListener("htmx:sendError", () => say(SILENT))

keepFolds()
keepAnswers()
watchForms()
openLayout()
watchLayouts()
watchOrders()
watchCut()
watchPapers()
watchShop()

const part = document.querySelector("[data-job]")
if (part) {
  const [running, time] = [document.getElementById("running"), document.getElementById("running-time")]
  let counting
  // What is done, and for how long: the seconds go on by themselves, for the program says something only now and then.
  const doing = (words, seconds = 0) => {
    clearInterval(counting)
    const began = performance.now() - 1000 * seconds
    const count = () => { time.textContent = `${Math.floor((performance.now() - began) / 1000)} s` }
    running.textContent = `${words} …`
    counting = setInterval(count, 500)
    count()
  }
  const still = (words, seconds = "") => {
    clearInterval(counting)
    time.textContent = seconds
    if (running.textContent !== words) running.textContent = words
  }
  if (time.dataset.seconds) doing(running.textContent.replace(/ …$/, ""), Number(time.dataset.seconds))
  document.getElementById("nest")?.addEventListener("htmx:afterRequest", ({ detail }) => {
    if (detail.xhr.status === 204 && detail.elt.id === "nest" && !running.textContent) doing("Beginning")
  })
  listen((said) => {
    if (said.job !== part.dataset.job || said.kind !== "job") return
    for (const one of document.querySelectorAll(".stop")) one.hidden = !["before", "nesting"].includes(said.stage)
    if (["before", "after"].includes(said.stage)) doing(said.words)
    if (said.stage === "nesting") still(said.words ? `Best so far: ${said.words}` : "Searching …", `${said.elapsed.toFixed(0)} s${said.seconds ? ` of ${said.seconds.toFixed(0)} s` : ""}`)
    if (said.stage === "failed") still(said.lines.join(" "))
    if (said.stage === "done") reload()
  })
}

ready()
goOn()
