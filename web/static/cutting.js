// Works on a photo's pixels beside the page, which stays quick: makes it small, then cuts tiles out of it.
const PREVIEW_PX = 1024 // about the preview's longest side; a whole number of times smaller is quicker and sharper
const PREVIEW_QUALITY = 0.5
const QUALITY = 0.9 // at 0.85 the grain's angle is off by a hundredth of a degree more
const LEAST_PX = 1200 // a smaller photo is not cut
const NOTES_BYTES = 256 * 1024 // a camera's notes stand before the picture

let photo

self.onmessage = async ({ data }) => {
  self.postMessage(await (data.file ? open(data.file) : cut(data)).catch(() => null))
}

async function open(file) {
  const notes = new DataView(await file.slice(0, NOTES_BYTES).arrayBuffer())
  photo = await createImageBitmap(file, { colorSpaceConversion: "none" }) // upright, as its notes say
  const { width, height } = photo
  if (Math.min(width, height) < LEAST_PX) return null
  const smaller = Math.round(Math.max(width, height) / PREVIEW_PX)
  const size = [width, height].map((side) => Math.round(side / smaller))
  const preview = await draw(size, PREVIEW_QUALITY, (pen) => pen.drawImage(photo, 0, 0, ...size))
  return { preview, layout: { size: [width, height], focal_35_mm: focalOf(notes) } }
}

// Tiles one after the other, each as it is in the photo.
async function cut({ tiles, turned }) {
  const [cols, rows] = [2, 3].map((side) => tiles.map((tile) => tile[side]))
  const sum = (sizes) => sizes.reduce((all, size) => all + size, 0)
  const size = turned ? [Math.max(...cols), sum(rows)] : [sum(cols), Math.max(...rows)]
  return draw(size, QUALITY, (pen) => {
    let at = 0
    for (const [left, top, width, height] of tiles) {
      pen.drawImage(photo, left, top, width, height, turned ? 0 : at, turned ? at : 0, width, height)
      at += turned ? height : width
    }
  })
}

function draw(size, quality, paint) {
  const canvas = new OffscreenCanvas(...size)
  const pen = canvas.getContext("2d", { alpha: false })
  pen.imageSmoothingQuality = "high"
  paint(pen)
  return canvas.convertToBlob({ type: "image/jpeg", quality })
}

// Focal length in 35 mm film from a camera's notes (Exif 2.32: tags 0x8769 and 0xA405), null when there is none.
function focalOf(notes) {
  try {
    const start = beginOf(notes)
    const little = notes.getUint16(start) === 0x4949
    const short = (at) => notes.getUint16(start + at, little)
    const long = (at) => notes.getUint32(start + at, little)
    const entry = (block, tag) => {
      for (let at = block + 2; at < block + 2 + 12 * short(block); at += 12) if (short(at) === tag) return at + 8
      throw new RangeError("not noted")
    }
    return short(entry(long(entry(long(4), 0x8769)), 0xa405)) || null
  } catch {
    return null // no notes, or damaged ones
  }
}

// Where the notes begin, after "Exif" and two zeros.
function beginOf(notes) {
  for (let at = 0; at < notes.byteLength - 6; at += 1) {
    if (notes.getUint32(at) === 0x45786966 && notes.getUint16(at + 4) === 0) return at + 6
  }
  throw new RangeError("no notes")
}
