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
  const counted = waiting.filter((note) => note.kind !== "bow")
  const { boards, photos } = wordsOf(waiting)
  const lines = counted.length < waiting.length ? [say("Your bow waits for signal.")] : []
  if (boards && photos) lines.push(say("{boards} and {photos} wait for signal.", { boards, photos }))
  else if (counted.length === 1) lines.push(say("{one} waits for signal.", { one: boards || photos }))
  else if (counted.length) lines.push(say("{several} wait for signal.", { several: boards || photos }))
  return `${lines.join(" ")} ${stays()}`
}

function refusedWords(refused) {
  const counted = refused.filter((note) => note.kind !== "bow")
  const { boards, photos } = wordsOf(refused)
  const lines = counted.length < refused.length ? [say("Your bow was not taken.")] : []
  if (boards && photos) lines.push(say("{boards} and {photos} were not taken.", { boards, photos }))
  else if (counted.length === 1) lines.push(say("{one} was not taken.", { one: boards || photos }))
  else if (counted.length) lines.push(say("{several} were not taken.", { several: boards || photos }))
  return lines.join(" ")
}

// How many boards and photos there are; nothing where there is none.
function wordsOf(notes) {
  const boards = notes.filter((note) => note.kind === "board").length
  const photos = notes.filter((note) => !note.kind).length
  return {
    boards: boards && (boards === 1 ? say("1 board") : say("{count} boards", { count: boards })),
    photos: photos && (photos === 1 ? say("1 photo") : say("{count} photos", { count: photos })),
  }
}

function stays() {
  if (!outbox.safe) return "Nothing more can be kept for later: leave this page open until all is sent."
  return "What waits is sent by itself, also after the page was closed and opened again."
}

function fullWords() {
  const { room } = outbox
  const left = room < 1 ? "no room for another photo" : `room for about ${room} more`
  return `There is ${left} to wait on this phone. Find signal and let them be sent, or delete something on the phone.`
}

function item(note) {
  const line = made("li")
  const link = made("a", "", note.words)
  const photos = outbox.notes.filter((other) => other.board === note.key).length
  const time = new Date(note.order).toLocaleTimeString([], { timeStyle: "short" })
  link.href = outbox.page(note)
  line.append(link, ` ${note.refused ?? time}${photos ? `, ${say("photos: {count}", { count: photos })}` : ""} `)
  if (note.refused) line.append(button("Send again", note, () => outbox.again(note)))
  line.append(button("Throw away", note, () => confirm(`Throw it away? ${note.words}`) && outbox.drop(note.key)))
  return line
}

function button(words, note, press) {
  const one = made("button", "button", words)
  one.type = "button"
  one.ariaLabel = [words, [note.words, note.name].filter(Boolean).join(", ")].join(": ")
  one.addEventListener("click", press)
  return one
}
