// A job's cut files: asked for with the whole form, what is wrong shown beside its field.
import { SILENT, listen, post, say } from "./requests.mjs"
import { Player } from "./playback.mjs"
import { reload } from "./page_load.mjs"

export function watchCut() {
  const form = document.getElementById("cut")
  for (const button of document.querySelectorAll("[data-copy]")) button.addEventListener("click", () => copy(button))
  for (const choice of document.querySelectorAll("[data-command]")) choice.addEventListener("change", () => { choice.closest("details").querySelector("code").textContent = choice.value })
  chosenMachine()
  if (!form) return
  const status = document.getElementById("cutting")
  const kept = `cut of ${form.dataset.post}`
  again(form, sessionStorage.getItem(kept))
  sessionStorage.removeItem(kept)
  let waiting = false
  form.addEventListener("submit", async (event) => {
    event.preventDefault()
    waiting = true
    status.textContent = "Beginning …"
    if (await asked(() => fetch(form.dataset.post, { method: "POST", headers: { "x-bench-post": post }, body: filled(form) }))) return
    waiting = false
    status.textContent = ""
  })
  form.querySelector("[data-load]").addEventListener("click", () => play(form, status))
  listen((said) => {
    if (!waiting || said.kind !== "job" || said.job !== document.querySelector("[data-job]").dataset.job) return
    if (said.stage === "before") status.textContent = `${said.words} …`
    if (said.stage === "failed") { waiting = false; status.textContent = ""; show(form, { "": said.lines.join("\n") }) }
    if (said.stage === "done") { sessionStorage.setItem(kept, filled(form)); reload() }
  })
  async function asked(ask) {
    try {
      const answer = await ask()
      if (!answer.ok) { show(form, { "": await answer.text() }); return null }
      const found = answer.status === 204 ? {} : await answer.json()
      show(form, found.mistakes ?? (found.wrong ? { "": found.wrong.join("\n") } : {}))
      return found.mistakes || found.wrong ? null : found
    } catch { say(SILENT) }
    return null
  }
  async function play() {
    status.textContent = "Planning the cuts …"
    const address = `${document.getElementById("playback").dataset.url}?${filled(form)}`
    const found = await asked(() => fetch(address))
    status.textContent = ""
    if (found) shown(found)
  }
}

// The machine chosen last in this tab, for the layout or the cut, stands there again when the sheet is loaded anew.
function chosenMachine() {
  const choices = [...document.querySelectorAll("#nest [name=machine], #cut [name=machine]")]
  const kept = `machine of ${location.pathname}`
  const last = sessionStorage.getItem(kept)
  for (const choice of choices) {
    if ([...choice.options].some((one) => one.value === last)) choice.value = last
    choice.addEventListener("change", () => sessionStorage.setItem(kept, choice.value))
  }
  // So does a layout's kerf by hand, for the machine it was given for.
  const nest = document.getElementById("nest")
  if (!nest) return
  const [machine, kerf] = [nest.elements.machine, nest.elements.kerf]
  const given = () => `kerf of ${location.pathname} for ${machine.value}`
  const again = () => { kerf.value = machine.value && sessionStorage.getItem(given()) || "" }
  kerf.addEventListener("change", () => sessionStorage.setItem(given(), kerf.value))
  machine.addEventListener("change", again)
  again()
}

// Fill in again what files were just written with: where the hide lies, kerf by hand and the rest.
function again(form, typed) {
  for (const [name, value] of new URLSearchParams(typed ?? "")) {
    const field = form.elements.namedItem(name)
    if (!field?.closest?.("details.group") || field.name === "units") continue
    if (field.type === "checkbox") field.checked = true
    else field.value = value
    if (value) field.closest("details").open = true
  }
}

const filled = (form) => new URLSearchParams(new FormData(form))

function show(form, mistakes) {
  let first = null
  for (const place of form.querySelectorAll("[data-mistake]")) {
    place.textContent = mistakes[place.dataset.mistake] ?? ""
    if (!place.textContent) continue
    for (let around = place.parentElement; around !== form; around = around.parentElement) if (around.matches("details")) around.open = true
    first ??= place
  }
  first?.scrollIntoView({ block: "center" })
}

function shown(found) {
  const place = document.getElementById("playback")
  const about = document.createElement("p")
  about.textContent = `Kerf ${found.kerf}. Places are as the machine shows them: ${found.frame}.`
  const findings = document.createElement("ul")
  findings.className = "findings"
  for (const one of found.findings) {
    const line = document.createElement("li")
    const head = document.createElement("b")
    head.textContent = one.severity
    line.className = one.severity
    line.append(head, ` ${one.of ? `${one.of}: ` : ""}${one.words}`)
    findings.append(line)
  }
  place.replaceChildren(about, findings, ...found.sheets.map((sheet) => new Player(sheet).box))
  place.scrollIntoView({ block: "start" })
}

async function copy(button) {
  const code = button.parentElement.querySelector("code")
  getSelection().selectAllChildren(code)
  try {
    await navigator.clipboard.writeText(code.textContent)
    say("Copied.")
  } catch { say("It is marked: copy it with the keys of your machine.") }
}
