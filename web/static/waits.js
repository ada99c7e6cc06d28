// Shows on every page what waits to be sent, with a way to throw one away, and tells when room runs short.
import { freshen } from "./fresh.js"
import { outbox } from "./outbox.js"
import { made } from "./progress.js"
import { say } from "./words.js"

export function showWaiting(place) {
  let shown = null
  const show = () => {
    const held = outbox.notes.filter((note) => ["signal", "refused", "held"].includes(outbox.stage(note)))
    const state = JSON.stringify([held.map((note) => [note.key, note.refused]), outbox.nearlyFull, outbox.safe])
    if (state === shown) return
    shown = state
    const open = place.querySelector("details")?.open ?? location.pathname === "/"
    place.hidden = held.length === 0 && !outbox.nearlyFull
    place.replaceChildren(...content(held))
    if (open) place.querySelector("details")?.setAttribute("open", "")
    const start = document.querySelector(".next a[href='/bow']")
    if (start && held.some((note) => note.kind === "bow")) { // it is set, though the page does not know
      start.href = "/boards/new"
      start.textContent = say("Next board")
    }
  }
  place.classList.add("waits")
  outbox.addEventListener("change", show)
  outbox.addEventListener("arrived", () => document.querySelector("[data-shot]") || renew())
  show()
}

// The first page becomes the rack with the first board, which is another page.
async function renew() {
  if (location.pathname === "/" && !document.querySelector("[data-fresh=rack]")) location.reload()
  else await freshen()
}

function content(held) {
  const waiting = held.filter((note) => !note.refused)
  const parts = [waitWords(waiting), refusedWords(held.filter((note) => note.refused))]
  if (outbox.nearlyFull) parts.push(fullWords())
  const said = parts.filter(Boolean).map((words) => {
    const line = made("p", "", words)
    line.role = "status"
    return line
  })
  if (held.length === 0) return said
  const folded = made("details")
  const list = made("ul")
  list.append(...held.filter((note) => note.kind || !outbox.note(note.board)).map(item)) // a board stands for its photos
  folded.append(made("summary", "", say("Show them")), list)
  return [...said, folded]
}

function waitWords(waiting) {
  if (waiting.length === 0) return ""
  const { bows, what, several } = counted(waiting)
  const lines = bows ? [say("Your bow waits for signal.")] : []
  if (what) lines.push(several ? say("{what} wait for signal.", { what }) : say("{what} waits for signal.", { what }))
  return `${lines.join(" ")} ${stays()}`
}

function refusedWords(refused) {
  const { bows, what, several } = counted(refused)
  const lines = bows ? [say("Your bow was not taken.")] : []
  if (what) lines.push(several ? say("{what} were not taken.", { what }) : say("{what} was not taken.", { what }))
  return lines.join(" ")
}

// Says how many boards and photos there are.
function counted(notes) {
  const number = (kind) => notes.filter((note) => note.kind === kind).length
  const [bows, boards, photos] = [number("bow"), number("board"), number()]
  const words = {
    boards: boards === 1 ? say("1 board") : say("{count} boards", { count: boards }),
    photos: photos === 1 ? say("1 photo") : say("{count} photos", { count: photos }),
  }
  const both = boards && photos && say("{boards} and {photos}", words)
  return { bows, what: both || (boards && words.boards) || (photos && words.photos), several: boards + photos > 1 }
}

function stays() {
  if (!outbox.safe) return say("Nothing more can be kept for later: leave this page open until all is sent.")
  return say("What waits is sent by itself, also after the page was closed and opened again.")
}

function fullWords() {
  const { room } = outbox
  const left =
    room < 1
      ? say("There is no room for another photo to wait on this phone.")
      : say("There is room for about {count} more to wait on this phone.", { count: room })
  return `${left} ${say("Find signal and let them be sent, or delete something on the phone.")}`
}

function item(note) {
  const line = made("li")
  const link = made("a", "", note.words)
  const photos = outbox.notes.filter((other) => other.board === note.key).length
  const time = new Date(note.order).toLocaleTimeString([], { timeStyle: "short" })
  link.href = outbox.page(note)
  line.append(link, ` ${note.refused ?? time}${photos ? `, ${say("photos: {count}", { count: photos })}` : ""} `)
  if (note.refused) line.append(button(say("Send again"), note, () => outbox.again(note)))
  line.append(button(say("Throw away"), note, () => confirm(sure(note)) && outbox.drop(note.key)))
  return line
}

function sure({ words }) {
  return say("Throw it away? {what}", { what: words })
}

function button(words, note, press) {
  const one = made("button", "button", words)
  one.type = "button"
  one.ariaLabel = [words, [note.words, note.name].filter(Boolean).join(", ")].join(": ")
  one.addEventListener("click", press)
  return one
}
