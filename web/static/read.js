// Reads a board in the background: tells the steps, can be stopped, and then puts the answer into the page. The focus
// goes to the answer unless it is at work elsewhere.
import { freshen } from "./fresh.js"
import { LINES, isLines, told, whole } from "./lines.js"
import { outbox } from "./outbox.js"

const LOOK_MS = 2000
const LOST = "The connection was lost. The photos are kept: read the board once more when there is signal."

export function readInBackground(form) {
  const view = new StepsView(form)
  let request = null
  form.addEventListener("submit", (event) => {
    event.preventDefault()
    if (request) return
    request = new XMLHttpRequest()
    request.open("POST", form.action)
    request.setRequestHeader("Accept", LINES)
    request.onprogress = () => view.step(whole(request).findLast((line) => line.step)?.step)
    request.onload = () => ended(view, isLines(request) ? whole(request).at(-1) : told(request))
    request.onerror = () => view.refuse(LOST)
    request.onloadend = () => (request = null)
    request.onabort = () => view.rest()
    request.send(new URLSearchParams(new FormData(form)))
    view.work(first(form))
  })
  view.stop.addEventListener("click", () => request?.abort())
}

function first(form) {
  const board = form.closest("[data-board]")?.dataset.board
  const late = outbox.notes.filter((note) => note.board === board && !note.refused).length
  if (late === 0) return "Reading the board"
  return `Reading the board without ${late === 1 ? "the photo that is" : `the ${late} photos that are`} still on the way`
}

async function ended(view, last) {
  if (!last?.done) return view.refuse(last?.text ?? LOST)
  const free = view.hasFocus || document.activeElement === document.body
  view.step("The board is read. Fetching the answer")
  if (!(await freshen())) return view.refuse("The board is read. Open this page again to see the answer.")
  view.rest()
  if (free) showAnswer()
}

function showAnswer() {
  const place = document.querySelector("main [data-focus]")
  place?.focus({ preventScroll: true })
  place?.scrollIntoView({ block: "start" })
}

// Asks until a reading that the server began by itself has ended, then shows its answer where it belongs.
let watched = false
export async function watchReading(board) {
  if (watched) return
  watched = true
  while ((await stateOf(board))?.reading === "started") await new Promise((resolve) => setTimeout(resolve, LOOK_MS))
  watched = false
  await freshen()
}

async function stateOf(board) {
  const answer = await fetch(`/boards/${board}/state`, { headers: { Accept: "application/json" } }).catch(() => null)
  return answer?.ok ? answer.json().catch(() => null) : null
}

class StepsView {
  #form
  #box = document.createElement("div")
  #words = document.createElement("p")
  #problem = document.createElement("p")
  stop = document.createElement("button")

  constructor(form) {
    this.#form = form
    this.#box.className = "progress"
    this.#words.ariaLive = "polite"
    this.#problem.className = "notice"
    this.#problem.role = "alert"
    this.stop.type = "button"
    this.stop.className = "button"
    this.stop.textContent = "Stop"
    const bar = document.createElement("progress")
    bar.ariaLabel = "The reading goes on"
    this.#box.append(this.#words, bar, this.stop)
    this.#box.hidden = this.#problem.hidden = true
    form.append(this.#box, this.#problem)
  }

  get hasFocus() {
    return this.#form.contains(document.activeElement)
  }

  work(words) {
    const moves = this.hasFocus
    this.#button.hidden = true
    this.#box.hidden = false
    this.#problem.hidden = true
    this.step(words)
    if (moves || document.activeElement === document.body) this.stop.focus({ preventScroll: true })
  }

  step(words) {
    if (words && this.#words.textContent !== words) this.#words.textContent = words
  }

  rest() {
    const moves = document.activeElement === this.stop
    this.#button.hidden = false
    this.#box.hidden = true
    if (moves) this.#button.focus({ preventScroll: true })
  }

  refuse(words) {
    this.rest()
    this.#problem.textContent = words
    this.#problem.hidden = false
  }

  get #button() {
    return this.#form.querySelector("button:not([type=button])")
  }
}
