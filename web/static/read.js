// Reads a board in the background: tells the steps, and then puts the answer into the page. The focus goes to the
// answer unless it is at work elsewhere.
import { freshen } from "./fresh.js"
import { LINES, isLines, told, whole } from "./lines.js"
import { outbox } from "./outbox.js"
import { Progress } from "./progress.js"
import { say } from "./words.js"

const LOOK_MS = 300
const LOST_MS = 3000
const LOST = say("The connection was lost. The photos are kept: read the board once more when there is signal.")

export function readInBackground(form) {
  let request = null
  const view = new Progress(form, () => request?.abort(), say("Stop waiting")) // the reading goes on
  form.addEventListener("submit", (event) => {
    event.preventDefault()
    if (request) return
    request = new XMLHttpRequest()
    request.open("POST", form.action)
    request.setRequestHeader("Accept", LINES)
    request.onprogress = () => view.step(whole(request).findLast((line) => line.step)?.step)
    request.onload = () => ended(view, isLines(request) ? whole(request).at(-1) : told(request))
    request.onerror = () => view.refuse(LOST)
    request.onabort = () => view.rest()
    request.onloadend = () => (request = null)
    request.send(new URLSearchParams(new FormData(form)))
    view.work(first(form))
  })
}

function first(form) {
  const board = form.closest("[data-board]")?.dataset.board
  const late = outbox.notes.filter((note) => note.board === board && !note.refused).length
  if (late === 0) return say("Reading the board")
  if (late === 1) return say("Reading the board without the photo that is on the way")
  return say("Reading the board without the {count} photos that are on the way", { count: late })
}

async function ended(view, last) {
  if (!last?.done) return view.refuse(last?.text ?? LOST)
  const { free } = view
  view.step(say("The board is read. Fetching the answer"))
  if (!(await freshen())) return view.refuse(say("The board is read. Open this page again to see the answer."))
  view.rest()
  if (free) showAnswer()
}

function showAnswer() {
  const place = document.querySelector("[data-fresh=answer] [tabindex]")
  place?.focus({ preventScroll: true })
  place?.scrollIntoView({ block: "start" })
}

// Asks until a reading that the server began by itself has ended, which the server tells at once, then shows its answer
// where it belongs. A lost line is tried again.
let watched = false
export async function watchReading({ dataset: { board } }) {
  if (watched) return
  watched = true
  for (let pause_ms; (pause_ms = await untilNext(board)); ) await new Promise((resolve) => setTimeout(resolve, pause_ms))
  watched = false
  await freshen()
}

// How long to wait before the next question; 0 when there is none.
async function untilNext(board) {
  const headers = { Accept: "application/json" }
  const answer = await fetch(`/boards/${board}/state?wait=1`, { headers }).catch(() => null)
  if (answer?.status >= 400 && answer.status < 500) return 0
  const state = answer?.ok ? await answer.json().catch(() => null) : null
  if (!state) return LOST_MS
  return state.reading === "started" ? LOOK_MS : 0
}
