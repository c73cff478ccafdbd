// What every page shares: how a post is sent, what the program says, and the forms that need no more than that.
import { watchCut } from "./cut.mjs"
import { keepFolds } from "./fold.mjs"
import { watchForms } from "./forms.mjs"
import { openLayout } from "./layout.mjs"
import { watchOrders } from "./orders.mjs"
import { watchPapers } from "./papers.mjs"
import { watchShop } from "./shop.mjs"
import { post, say, listen } from "./talk.mjs"

document.body.addEventListener("htmx:configRequest", (event) => { event.detail.headers["x-bench-post"] = post })
document.body.addEventListener("htmx:responseError", (event) => say(event.detail.xhr.responseText))
document.body.addEventListener("htmx:sendError", () => say("The program does not answer: is it still running?"))

keepFolds()
watchForms()
openLayout()
watchOrders()
watchCut()
watchPapers()
watchShop()

const part = document.querySelector("[data-job]")
if (part) {
  const running = document.getElementById("running")
  listen((said) => {
    if (said.job !== part.dataset.job || said.kind !== "job") return
    if (said.stage === "before") running.textContent = `${said.words} …`
    if (said.stage === "nesting") running.textContent = `${said.placed} of ${said.asked} parts placed after ${said.elapsed} s; at most ${(100 * said.more).toFixed(1)} % more could be.`
    if (said.stage === "failed") running.textContent = said.lines.join(" ")
    if (said.stage === "done") location.reload()
  })
}
