// Shows on every page what waits to be sent, with a way to throw one away, and tells when room runs short.
import { outbox } from "./outbox.js"

export function showWaiting(place) {
  let shown = null
  const show = () => {
    const held = outbox.notes.filter((note) => note.refused ? !here(note) : outbox.stage(note) === "signal")
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
  show()
}

function here(note) {
  return note.page === location.pathname // its shot says so itself
}

function content(held) {
  const parts = []
  const waiting = held.filter((note) => !note.refused)
  const refused = held.filter((note) => note.refused)
  if (waiting.length) parts.push(said(`${count(waiting)} for signal. ${stays(waiting)}`))
  if (refused.length) parts.push(said(refused.length === 1 ? "1 photo was not taken." : `${refused.length} photos were not taken.`))
  if (outbox.nearlyFull) parts.push(said(fullWords()))
  if (held.length === 0) return parts
  const folded = document.createElement("details")
  const summary = document.createElement("summary")
  const list = document.createElement("ul")
  summary.textContent = "Show them"
  list.append(...held.map(item))
  folded.append(summary, list)
  return [...parts, folded]
}

function count(notes) {
  return notes.length === 1 ? "1 photo waits" : `${notes.length} photos wait`
}

function stays(notes) {
  if (!outbox.lasting) return "This browser keeps nothing for later: leave this page open until they are sent."
  return notes.length === 1 ? "It is sent by itself, also after the page was closed and opened again." : "They are sent by themselves, also after the page was closed and opened again."
}

function fullWords() {
  const left = outbox.room < 1 ? "There is no room for another photo" : `There is room for about ${outbox.room} more ${outbox.room === 1 ? "photo" : "photos"}`
  return `${left} to wait on this phone. Find signal and let them be sent, throw some away, or delete something else on the phone.`
}

function said(words) {
  const line = document.createElement("p")
  line.role = "status"
  line.textContent = words
  return line
}

function item(note) {
  const line = document.createElement("li")
  const link = document.createElement("a")
  const away = document.createElement("button")
  link.href = note.page
  link.textContent = note.words
  away.type = "button"
  away.className = "button"
  away.textContent = note.refused ? "Clear" : "Throw away"
  away.ariaLabel = `${away.textContent}: ${note.words}, ${note.name}`
  away.addEventListener("click", () => {
    if (note.refused || confirm(`Throw the photo of ${note.words} away? It has not been sent.`)) outbox.drop(note.key)
  })
  line.append(link, ` ${note.refused ?? new Date(note.order).toLocaleTimeString([], { timeStyle: "short" })} `, away)
  return line
}
