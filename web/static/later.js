// Keeps a form that makes a board or sets the bow on the phone before it is sent, so that it works without signal and
// arrives once. With signal it goes on as the form alone would; without, a board goes on to its page on this phone.
import { outbox } from "./outbox.js"
import { made } from "./progress.js"
import { say } from "./words.js"

const SOON_MS = 4000 // a server that has not answered by then counts as no signal
const TWICE_MS = 2000 // gloves touch twice

export async function sendLater(form) {
  let busy = false
  let mended = null // what was refused and is on show again
  form.addEventListener("submit", async (event) => {
    event.preventDefault()
    if (busy) return
    busy = true
    mended = outbox.note(mended?.key) ?? null
    const note = mended ?? (await kept(form))
    if (!note) return form.submit()
    if (mended) await mend(mended, form)
    const outcome = await settled(note.key)
    if (outcome?.refused && form.dataset.later !== "next") {
      if (!mended) await outbox.drop(note.key)
      refuse(form, outcome)
      busy = false
      return
    }
    // Without a worker, as at an address that is not secure, no page opens without signal.
    if (outbox.note(note.key) && !navigator.serviceWorker?.controller) return stay(form, note)
    setTimeout(() => (busy = false), TWICE_MS)
    location.assign(outcome?.page ?? wayOn(note))
  })
  await outbox.ready
  mended = toMend(form)
  const shown = mended ?? waiting(form)
  if (shown) fill(form, mended ? shown.fields : named(shown.fields, ""))
  if (mended) refuse(form, mended)
  tellBow()
}

// Drops what waits on this phone and the worker's pages and pictures when all is forgotten.
export function forgetHere(form) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault()
    const short = new Promise((resolve) => setTimeout(resolve, 2000)) // it must not keep anyone from deleting
    const kept = ["pages", "pictures"].map((name) => self.caches?.delete(name))
    await Promise.race([Promise.all([outbox.dropAll(), ...kept]), short]).catch(() => null)
    form.submit()
  })
}

// Keeps what was typed; null where nothing can be kept, for then the form has to go by itself.
async function kept(form) {
  await outbox.ready
  if (!outbox.lasting) return null
  const forms = outbox.notes.filter((note) => note.kind)
  if (form.dataset.later === "bow") {
    const last = forms.at(-1)
    return outbox.addForm({ ...told(form), kind: "bow" }, last?.kind === "bow" ? [last.key] : [])
  }
  const boards = forms.filter((note) => note.kind === "board")
  const number = 1 + Math.max(0, ...boards.map((note) => note.number))
  const typed = form.dataset.later === "next" && boards.length ? alike(boards.at(-1)) : told(form)
  const words = typed.name || say("Waiting board {number}", { number })
  return outbox.addForm({ ...typed, name: undefined, words, number, kind: "board" })
}

function told(form) {
  const typed = new FormData(form)
  typed.delete("once") // each has a key of its own
  const fields = new URLSearchParams(typed)
  const one = (...names) => names.map((name) => fields.get(name)?.trim()).find(Boolean)
  const across = [one("thickness"), one("width")].filter(Boolean).join(" x ")
  const size = [one("length", "length_choice"), one("size_other", "size"), across, one("wood")].filter(Boolean).join(", ")
  const words = say("Your bow")
  return { action: new URL(form.action).pathname, fields: String(fields), name: one("name"), size, words }
}

function alike({ action, fields, size }) {
  return { action, fields: named(fields, ""), size }
}

function named(fields, name) {
  const all = new URLSearchParams(fields)
  if (all.has("name")) all.set("name", name)
  return String(all)
}

// What was refused for the same reason is mended with it: boards of a whole rack are of one size.
async function mend(note, form) {
  const { action, fields, size } = told(form)
  const same = ({ key, kind, refused, fields: other }) =>
    key !== note.key && kind === note.kind && refused && named(other, "") === named(note.fields, "")
  const others = outbox.notes.filter(same)
  await outbox.again(note, { action, fields, size })
  for (const one of others) {
    const name = new URLSearchParams(one.fields).get("name") ?? ""
    await outbox.again(one, { action, fields: named(fields, name), size })
  }
}

function toMend(form) {
  const refused = outbox.notes.filter((note) => note.refused)
  if (form.dataset.later === "bow") return refused.find((note) => note.kind === "bow") ?? null
  return (form.dataset.later === "board" && refused.find((note) => note.key === location.hash.slice(1))) || null
}

// The bow as it will be, or the size of the board before, neither of which the page may know of.
function waiting(form) {
  const { later: kind } = form.dataset
  return outbox.notes.findLast((note) => note.kind === kind && note.fields)
}

// The page may be from before the bow was changed.
function tellBow() {
  const place = document.querySelector("[data-bow]")
  const bow = outbox.notes.findLast((note) => note.kind === "bow")
  if (!place || !bow) return
  const typed = new URLSearchParams(bow.fields)
  const length = [typed.get("bow_length"), typed.get("units")].filter(Boolean).join(" ")
  place.replaceChildren(say("For the bow you have set, {length} long.", { length }), " ", place.querySelector("a"))
}

// What became of it: the page to go on to, the refusal, or nothing while it waits.
function settled(key) {
  return new Promise((resolve) => {
    const end = (outcome) => {
      outbox.removeEventListener("change", look)
      outbox.removeEventListener("arrived", arrived)
      resolve(outcome)
    }
    const look = () => {
      const note = outbox.note(key)
      if (note?.refused) end(note)
      else if (note && outbox.stage(note) === "signal") end(null)
    }
    const arrived = ({ detail }) => detail.note.key === key && end({ page: detail.answer.page })
    outbox.addEventListener("change", look)
    outbox.addEventListener("arrived", arrived)
    setTimeout(end, SOON_MS)
    look()
  })
}

function stay(form, { key }) {
  const kept = say("It is kept on this phone and sent once there is signal. Leave this page open: it goes on then.")
  const words = made("p", "notice", kept)
  words.role = "status"
  form.append(words)
  words.scrollIntoView({ block: "nearest" })
  outbox.addEventListener("arrived", ({ detail }) => detail.note.key === key && location.assign(detail.answer.page))
}

function wayOn({ key, kind }) {
  if (kind === "bow") return "/boards/new"
  const note = outbox.note(key)
  return note ? outbox.page(note) : `/boards/${outbox.home(key)}`
}

function fill(form, fields) {
  for (const [name, value] of new URLSearchParams(fields)) {
    const field = form.elements.namedItem(name) // not by a dot: one field is called length
    if (field) field.value = value
  }
}

// Tells above the form and at its field why it was refused.
function refuse(form, { refused, field }) {
  document.querySelectorAll("[data-later-why]").forEach((old) => old.remove())
  form.querySelectorAll("[aria-invalid]").forEach((old) => old.removeAttribute("aria-invalid"))
  const notice = made("div", "notice")
  notice.role = "alert"
  notice.tabIndex = -1
  notice.dataset.laterWhy = ""
  notice.append(made("h2", "", say("Not kept yet")), made("p", "", refused))
  document.querySelector("h1").after(notice)
  const place = field && form.querySelector(`#${CSS.escape(field)}`)
  if (place) {
    const link = made("a", "", say("Go to that field"))
    const line = made("p")
    link.href = `#${field}`
    line.append(link)
    notice.append(line)
    point(place, refused)
  }
  notice.focus()
}

function point(place, refused) {
  const why = made("p", "why", refused)
  why.id = `${place.id}-why`
  why.dataset.laterWhy = ""
  place.before(why)
  const folded = place.closest("details")
  if (folded) folded.open = true
  if (!place.matches("input, select")) return
  place.setAttribute("aria-invalid", "true")
  const described = place.getAttribute("aria-describedby")?.replace(why.id, "").trim() ?? ""
  place.setAttribute("aria-describedby", `${described} ${why.id}`.trim())
}
