// Talking with the program.
export const post = document.querySelector('meta[name="post"]').content
const notice = document.getElementById("notice")
const SHOWN = 8000

export const SILENT = "The program does not answer: is it still running?"

let clearing
export function say(words) {
  notice.textContent = words
  clearTimeout(clearing)
  clearing = setTimeout(() => { notice.textContent = "" }, SHOWN)
}

// Send something, and return what comes back; what is wrong is shown, and nothing returned.
export async function send(address, body, wrong = say) {
  const plain = !(body instanceof URLSearchParams)
  try {
    const answer = await fetch(address, {
      method: "POST",
      headers: { "x-bench-post": post, ...(plain ? { "content-type": "application/json" } : {}) },
      body: plain ? JSON.stringify(body) : body,
    })
    if (answer.ok) return await answer.json()
    wrong(await answer.text())
  } catch { wrong(SILENT) }
  return null
}

// One request at a time; of those that wait only the latest counts.
export class Latest {
  constructor(work) { this.work = work }

  async ask(what) {
    this.waiting = what
    if (this.busy) return
    this.busy = true
    try {
      while (this.waiting !== undefined) {
        const next = this.waiting
        this.waiting = undefined
        await this.work(next)
      }
    } finally { this.busy = false }
  }
}

const listeners = []
let stream
export function listen(heard) {
  listeners.push(heard)
  if (stream) return
  // What has happened since the page was asked for is sent first.
  stream = new EventSource(`/events?seen=${document.querySelector('meta[name="seen"]').content}`)
  stream.addEventListener("message", (event) => { for (const one of listeners) one(JSON.parse(event.data)) })
}
