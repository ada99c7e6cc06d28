// Sends less of a photo of a side: the service finds the board in a small preview, then only that stretch of the full
// photo goes, cut out as it is. Whatever stands in the way, the whole photo goes instead.
const PATIENCE_MS = 20000 // a phone that takes longer over one step had better send the whole photo
const SIDE = /\/photos\/((?:face|edge)_[12])(?:\?|$)/

// What to send instead of a photo: `photo` (the stretch), `around` (the preview) and `layout`; null for the whole one.
// Throws when the line is bad or the server has no time.
export async function lighten(note, bytes, { signal }) {
  if (!SIDE.test(note.action) || note.type === "image/png") return null
  if (!self.OffscreenCanvas || !self.Worker) return null
  const cutter = new Worker("/static/cutting.js", { type: "module" })
  try {
    const seen = await ask(cutter, { file: new Blob([bytes], { type: note.type }) }, signal)
    const found = seen && (await find(note, seen, signal))
    const photo = found?.tiles && (await ask(cutter, found, signal))
    return photo ? { photo, around: seen.preview, layout: JSON.stringify({ ...seen.layout, ...found }) } : null
  } finally {
    cutter.terminate()
  }
}

// Has the worker do one thing; null when it cannot.
function ask(cutter, wish, signal) {
  return new Promise((resolve, reject) => {
    signal.throwIfAborted()
    signal.addEventListener("abort", () => reject(signal.reason), { once: true })
    setTimeout(resolve, PATIENCE_MS, null)
    cutter.onerror = () => resolve(null)
    cutter.onmessage = ({ data }) => resolve(data)
    cutter.postMessage(wish)
  })
}

// Asks where the board is; without tiles the whole photo is wanted.
async function find(note, { preview, layout }, signal) {
  const form = new FormData()
  form.set("photo", preview, "preview.jpg")
  form.set("layout", JSON.stringify(layout))
  const address = note.action.replace(SIDE, "/find/$1")
  const answer = await fetch(address, { method: "POST", body: form, headers: { Accept: "application/json" }, signal })
  if (answer.status >= 500 || answer.status === 429) throw new Error("signal")
  if (!answer.ok) return null
  return answer.json() // some other page, such as a shop's login, is none: it throws
}
