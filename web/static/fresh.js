// Puts fresh parts of the page, marked by data-fresh, in the place of old ones: fetched again, the rest left alone.
// Where there are parts that the old page did not have, all of it is put in its place. What has the focus keeps it, and
// a part in which somebody has typed stays.
export async function freshen() {
  if (!document.querySelector("[data-fresh]")) return false
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } }).catch(() => null)
  if (!answer?.ok) return false
  const page = new DOMParser().parseFromString(await answer.text(), "text/html")
  const same = (root, name) => root.querySelector(`[data-fresh="${CSS.escape(name)}"]`)
  const isNew = [...page.querySelectorAll("[data-fresh]")].some((part) => !same(document, part.dataset.fresh))
  for (const old of document.querySelectorAll(isNew ? "main" : "[data-fresh]")) {
    const part = isNew ? page.querySelector("main") : same(page, old.dataset.fresh)
    if (part && !typedIn(old) && old.innerHTML !== part.innerHTML) swap(old, document.adoptNode(part))
  }
  document.title = page.title
  return true
}

// The field whose photo is being taken or chosen: swapped meanwhile, it would lose the photo.
let picking = null
addEventListener("click", ({ target }) => target.matches("input[type=file]") && (picking = target), true)
for (const end of ["change", "cancel"]) addEventListener(end, ({ target }) => target === picking && (picking = null), true)

function typedIn(part) {
  if (part.contains(picking)) return true
  return [...part.querySelectorAll("input, textarea")].some(
    (field) => field.type !== "hidden" && (field.value !== field.defaultValue || field.checked !== field.defaultChecked)
  )
}

function swap(old, part) {
  const held = document.activeElement
  const way = pathTo(old, held)
  const folds = [...part.querySelectorAll("details")]
  old.querySelectorAll("details").forEach((one) => {
    const same = folds.find((fold) => words(fold.firstElementChild) === words(one.firstElementChild))
    if (same) same.open = one.open
  })
  old.replaceWith(part)
  document.dispatchEvent(new CustomEvent("fresh", { detail: part }))
  if (!way) return
  // What now lies in its place may do something to another board.
  const place = way.reduce((found, index) => found?.children[index], part) ?? part
  const same = !place.matches("a, button, input, select, summary, textarea") || sameKind(place, held)
  ;(same ? place : part).focus({ preventScroll: true })
}

function sameKind(one, other) {
  return one.localName === other.localName && one.id === other.id && words(one) === words(other)
}

function words(element) {
  return element?.textContent.trim()
}

// Which child of which child it is, counted from 0; null when it lies elsewhere.
function pathTo(part, element) {
  if (element === part || !part.contains(element)) return null
  const parent = element.parentElement
  return [...(parent === part ? [] : pathTo(part, parent)), [...parent.children].indexOf(element)]
}
