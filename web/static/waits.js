// Shows on every page what waits to be sent, with a way to throw one away, and tells when room runs short.
import { freshen } from "./fresh.js"
import { outbox } from "./outbox.js"
import { made } from "./progress.js"

export function showWaiting(place) {
  let shown = null
  const show = () => {
    const held = outbox.notes.filter((note) => ["signal", "refused"].includes(outbox.stage(note)))
    const state = JSON.stringify([held.map((note) => [note.key, note.refused]), outbox.nearlyFull, outbox.lasting])
    if (state === shown) return
    shown = state
    const open = place.querySelector("details")?.open
    place.hidden = held.length === 0 && !outbox.nearlyFull
    place.replaceChildren(...content(held))
    if (open) place.querySelector("details")?.setAttribute("open", "")
  }
  place.classList.add("waits")
  outbox.addEventListener("change", show)
  outbox.addEventListener("arrived", () => document.querySelector("[data-shot]") || freshen())
  show()
}

function content(held) {
  const waiting = held.filter((note) => !note.refused)
  const refused = held.length - waiting.length
  const parts = []
  if (waiting.length) parts.push(said(`${count(waiting.length, "waits", "wait")} for signal. ${stays()}`))
  if (refused) parts.push(said(`${count(refused, "was", "were")} not taken.`))
  if (outbox.nearlyFull) parts.push(said(fullWords()))
  if (held.length === 0) return parts
  const folded = made("details")
  const list = made("ul")
  list.append(...held.map(item))
  folded.append(made("summary", "", "Show them"), list)
  return [...parts, folded]
}

function count(number, does, doMany) {
  return number === 1 ? `1 photo ${does}` : `${number} photos ${doMany}`
}

function stays() {
  if (!outbox.lasting) return "Nothing more can be kept for later: leave this page open until all is sent."
  return "What waits is sent by itself, also after the page was closed and opened again."
}

function fullWords() {
  const { room } = outbox
  const left = room < 1 ? "no room for another photo" : `room for about ${room} more`
  return `There is ${left} to wait on this phone. Find signal and let them be sent, or delete something on the phone.`
}

function said(words) {
  const line = made("p", "", words)
  line.role = "status"
  return line
}

function item(note) {
  const line = made("li")
  const link = made("a", "", note.words)
  const time = new Date(note.order).toLocaleTimeString([], { timeStyle: "short" })
  link.href = note.page
  line.append(link, ` ${note.refused ?? time} `)
  if (note.refused) line.append(button("Send again", note, () => outbox.again(note)))
  line.append(button("Throw away", note, () => confirm(`Throw it away? ${note.words}`) && outbox.drop(note.key)))
  return line
}

function button(words, note, press) {
  const one = made("button", "button", words)
  one.type = "button"
  one.ariaLabel = `${words}: ${note.words}, ${note.name}`
  one.addEventListener("click", press)
  return one
}
