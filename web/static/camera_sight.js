// Finds the board in the middle of a small grey picture, in which it runs from left to right, and tells what would
// make the photo better. Where the board is not surely seen, nothing is said of it: no hint beats a wrong one.
import { say } from "./words.js"

export const COLS = 480 // of the small picture; the longer side of the live one
const ROWS_MOST = 180 // about its middle: a whole board that is held straight lies there
const BLOCK = 8 // columns taken together
const TURN_MOST_DEG = 12
const TURN_STEP_DEG = 0.5
const SOFT = 8 // a step of brightness (of 255) that counts half: many weak steps in line beat a few strong ones
const HELD = 0.25 // share of the blocks whose step has to run along either long edge
const TRIED = 6 // pairs of lines that are followed
const FILL = 0.9 // share of the picture that a board's length should take up
const FILL_LEAST = 0.65
const TILT_MOST_DEG = 3
const DARK = 40 // mean brightness of 255; a phone brightens what it can by itself
const MOVE_MOST_PX = 2 // between two looks, of the small picture's pixels

// How wide the guide is, as a share of the picture's longer side. Of what is to be photographed, `kind` is "whole",
// "part", "close", or "plain" for what has no guide; `thin` is how wide the side is against the length that is to be in view,
// `known` whether that was measured and is no guess.
export function bandShare({ thin, kind }) {
  const spare = kind === "close" ? 1.1 : 3 // room about the board's own width
  return Math.min(kind === "close" ? 0.7 : 0.4, spare * FILL * thin + 0.03)
}

// The small grey picture of a video or image; one that is higher than wide is turned so that its bottom lies left.
export function greyOf(picture, width, height, pen, { kind }) {
  const upright = height > width
  const [long, short] = upright ? [height, width] : [width, height]
  const all = Math.round((COLS * short) / long)
  const rows = kind === "whole" ? Math.min(ROWS_MOST, all) : all
  const scale = COLS / long
  const { canvas } = pen
  if (canvas.width !== COLS || canvas.height !== rows) Object.assign(canvas, { width: COLS, height: rows })
  pen.imageSmoothingQuality = "medium"
  pen.setTransform(1, 0, 0, 1, COLS / 2, rows / 2)
  if (upright) pen.rotate(Math.PI / 2)
  pen.drawImage(picture, (-width * scale) / 2, (-height * scale) / 2, width * scale, height * scale)
  const { data } = pen.getImageData(0, 0, COLS, rows)
  const grey = new Float32Array(COLS * rows)
  for (let at = 0; at < grey.length; at++) {
    grey[at] = 0.3 * data[4 * at] + 0.59 * data[4 * at + 1] + 0.11 * data[4 * at + 2]
  }
  return { grey, rows }
}

// What is seen: `mean` brightness and, of the board, `tilt_deg` (positive where it rises to the right), `middle_px`
// below the picture's middle, `width_px`, and its ends as shares of the picture's length; null where it is not seen.
export function look({ grey, rows }, wanted) {
  const mean = meanOf(grey)
  if (wanted.kind === "plain") return { mean, board: null }
  const steps = stepsOf(grey, rows)
  const found = guessLines(steps, rows, wanted).map((guess) => measure(steps, rows, guess, wanted)).filter(Boolean)
  // One that shows both ends and is as wide as it ought to be goes before a seam of the floor that crosses the picture.
  return { mean, board: found.find((one) => one.sure) ?? found[0] ?? null }
}

// The one thing to do next about what is seen, with a name of its own. `photo_px` is the longer side of the photo that
// will be taken: too few of its pixels on the board are as good as too great a distance.
export function hintOf({ mean, board }, moved_px, wanted, photo_px = Infinity) {
  if (mean < DARK) return ["dark", say("Too dark: switch the light on, or turn the board to a light.")]
  const still = moved_px > MOVE_MOST_PX ? ["moves", say("Hold still.")] : null
  if (wanted.kind === "plain") return still ?? ["good", say("Ready.")]
  const band_px = bandShare(wanted) * COLS
  if (!board || Math.abs(board.middle_px) > band_px / 2) return ["lost", say("Bring the board between the lines.")]
  const cut = [board.from, 1 - board.to].filter((free) => free < 0.012).length
  if (wanted.kind === "whole" && cut) {
    return ["near", say("Too near, an end is cut off: step back, or photograph it in parts.")]
  }
  const fill = board.to - board.from
  if (fill < FILL_LEAST || (wanted.kind === "whole" && fill * photo_px < wanted.least_px)) {
    if (wanted.kind !== "whole") return ["far", say("Too far: step closer.")]
    return ["far", say("Too far: step closer, or photograph it in two parts.")]
  }
  if (Math.abs(board.tilt_deg) > TILT_MOST_DEG) {
    // The board rises to the right where the phone is turned too far clockwise.
    return board.tilt_deg > 0
      ? ["turn back", say("Tilt: turn the phone a little counter-clockwise.")]
      : ["turn", say("Tilt: turn the phone a little clockwise.")]
  }
  return still ?? ["good", say("Good: take it.")]
}

// How far the picture moved since the one before, in its pixels, by least squares over the brightness steps; far more
// change than a small move explains counts as a large one.
export function movedBetween(before, now) {
  if (!before || before.grey.length !== now.grey.length) return 0
  const lay = 4
  const [old, fresh] = [shrink(before, lay), shrink(now, lay)]
  const brighter = meanOf(fresh.grey) / (meanOf(old.grey) || 1)
  const { cols, rows } = fresh
  let [xx, xy, yy, xt, yt, tt] = [0, 0, 0, 0, 0, 0]
  for (let row = 1; row < rows - 1; row++) {
    for (let at = row * cols + 1; at < (row + 1) * cols - 1; at++) {
      const x = (fresh.grey[at + 1] - fresh.grey[at - 1]) / 2
      const y = (fresh.grey[at + cols] - fresh.grey[at - cols]) / 2
      const t = fresh.grey[at] - old.grey[at] * brighter
      xx += x * x
      xy += x * y
      yy += y * y
      xt += x * t
      yt += y * t
      tt += t * t
    }
  }
  const steady = cols * rows // one grey level each, so that an even picture is not said to move
  const spread = (xx + steady) * (yy + steady) - xy * xy
  const across = (xt * (yy + steady) - yt * xy) / spread
  const down = (yt * (xx + steady) - xt * xy) / spread
  const unexplained = Math.sqrt(tt / (xx + yy + steady))
  return lay * Math.max(Math.hypot(across, down), unexplained > 1 ? unexplained : 0)
}

function meanOf(values) {
  return values.reduce((sum, one) => sum + one, 0) / values.length
}

function shrink({ grey, rows }, lay) {
  const [cols, high] = [COLS / lay, Math.floor(rows / lay)]
  const small = new Float32Array(cols * high)
  for (let row = 0; row < high * lay; row++) {
    const start = Math.floor(row / lay) * cols
    for (let col = 0; col < COLS; col++) small[start + Math.floor(col / lay)] += grey[row * COLS + col] / lay ** 2
  }
  return { grey: small, cols, rows: high }
}

// How brightness steps downward in each block of columns, softened to -1 .. 1.
function stepsOf(grey, rows) {
  const steps = []
  for (let first = 0; first < COLS; first += BLOCK) {
    const line = new Float32Array(rows)
    for (let row = 0; row < rows; row++) {
      for (let col = first; col < first + BLOCK; col++) line[row] += grey[row * COLS + col] / BLOCK
    }
    const step = new Float32Array(rows)
    for (let row = 1; row < rows - 1; row++) {
      const rise = line[row + 1] - line[row - 1]
      step[row] = rise / (Math.abs(rise) + SOFT)
    }
    steps.push(step)
  }
  return steps
}

const offCentre = (block) => (block + 0.5) * BLOCK - COLS / 2

// Pairs of lines, parallel and of opposite steps, that may be the board's long edges, the likeliest first.
function guessLines(steps, rows, { thin, kind }) {
  const likely = thin * COLS * FILL
  const least = Math.max(2, Math.floor(likely * 0.25))
  const most = Math.min(rows - 4, Math.ceil(likely * { whole: 2.5, part: 8, close: 2 }[kind] + 3))
  const pairs = []
  for (let turn = -TURN_MOST_DEG; turn <= TURN_MOST_DEG; turn += TURN_STEP_DEG) {
    let best = { score: 0 }
    const slope = Math.tan((turn * Math.PI) / 180)
    const sums = sumsAlong(steps, rows, slope)
    for (let upper = 1; upper < rows - least; upper++) {
      if (Math.abs(sums[upper]) < HELD * steps.length) continue
      for (let lower = upper + least; lower <= Math.min(upper + most, rows - 2); lower++) {
        if (sums[upper] * sums[lower] >= 0) continue
        const [weak, strong] = [Math.abs(sums[upper]), Math.abs(sums[lower])].sort((one, other) => one - other)
        if (weak < HELD * steps.length) continue
        const aside = Math.abs((upper + lower) / 2 - rows / 2) / (rows / 2)
        const odd = Math.min(1, Math.abs(Math.log((lower - upper) / likely)))
        const score = (weak + strong / 4) * (1 - aside / 2) * (1 - (kind === "part" ? 0 : odd / 4))
        if (score > best.score) best = { score, slope, upper, lower, sign: Math.sign(sums[upper]) }
      }
    }
    pairs.push(best)
  }
  return pairs
    .filter(({ score }, at) => score > 0 && score >= (pairs[at - 1]?.score ?? 0) && score > (pairs[at + 1]?.score ?? 0))
    .sort((one, other) => other.score - one.score)
    .slice(0, TRIED)
}

// The steps added up along lines of one slope, by the row in which they cross the picture's middle.
function sumsAlong(steps, rows, slope) {
  const sums = new Float32Array(rows)
  steps.forEach((step, block) => {
    const shift = Math.round(slope * offCentre(block))
    for (let row = Math.max(0, -shift); row < Math.min(rows, rows - shift); row++) sums[row] += step[row + shift]
  })
  return sums
}

// Follows both lines block by block, fits them anew and finds where they stop.
function measure(steps, rows, { slope, upper, lower, sign }, wanted) {
  let lines = [upper, lower].map((height) => ({ slope, height }))
  let ends = null
  for (const reach of [Math.min(3, (lower - upper) / 2), 1.25]) {
    const edges = lines.map((line, which) => follow(steps, line, which ? -sign : sign, reach))
    ends = longestHeld(steps.map((_, block) => Math.min(...edges.map((edge) => edge[block]?.step ?? 0))))
    if (ends[1] - ends[0] < steps.length / 4) return null
    lines = edges.map((edge) => fit(edge, ...ends))
  }
  const found = {
    sure: false,
    tilt_deg: (-Math.atan((lines[0].slope + lines[1].slope) / 2) * 180) / Math.PI,
    middle_px: (lines[0].height + lines[1].height - rows) / 2,
    width_px: lines[1].height - lines[0].height,
    from: ends[0] / steps.length,
    to: (ends[1] + 1) / steps.length,
  }
  return checked(found, wanted)
}

// A whole board is as wide as its size says, or wider where an end is cut off; the side beside it may show, and a pixel
// blurs. Without its size, one that shows no end may as well be a seam of the floor.
function checked(found, { kind, thin, known }) {
  if (kind !== "whole") return found
  const { from, to, width_px } = found
  const ought = thin * (to - from) * COLS
  const cut = from === 0 || to === 1
  if (cut) return known && width_px > 0.8 * ought ? found : null
  const slack = known ? 2 : 5
  const fits = width_px > ought / slack - 1 && width_px < ought * slack + 3
  return fits ? { ...found, sure: known } : null
}

function follow(steps, { slope, height }, sign, reach) {
  return steps.map((step, block) => {
    const near = height + slope * offCentre(block)
    let best = 0
    for (let row = Math.ceil(near - reach); row <= near + reach; row++) {
      if (row > 0 && row < step.length - 1 && sign * step[row] > sign * step[best]) best = row
    }
    if (!best) return null
    const [above, here, below] = [-1, 0, 1].map((by) => sign * step[best + by])
    const bend = above - 2 * here + below
    const shift = bend < 0 ? Math.max(-0.5, Math.min(0.5, (above - below) / 2 / bend)) : 0
    return { x: offCentre(block), y: best + shift, step: here }
  })
}

// First and last block of the stretch in which the lines stand out most: the largest sum over half of their usual step,
// so a label or a hand is bridged and a chance step beyond an end is not.
function longestHeld(strong) {
  const usual = [...strong].sort((one, other) => other - one)[Math.floor(strong.length / 4)]
  let [most, sum, start] = [0, 0, 0]
  let ends = [0, -1]
  strong.forEach((one, block) => {
    if (sum <= 0) [sum, start] = [0, block]
    sum += one - usual / 2
    if (sum > most) [most, ends] = [sum, [start, block]]
  })
  return ends
}

// A straight line through the points, least squares in which those far off weigh less (Tukey's biweight).
function fit(edge, first, last) {
  const points = edge.slice(first, last + 1).filter(Boolean)
  let line = { slope: 0, height: 0 }
  let weights = points.map((point) => point.step)
  for (let round = 0; round < 6; round++) {
    const sum = (value) => points.reduce((total, point, index) => total + weights[index] * value(point), 0)
    const all = sum(() => 1)
    const [x, y] = [sum((point) => point.x) / all, sum((point) => point.y) / all]
    const slope = sum((point) => (point.x - x) * (point.y - y)) / (sum((point) => (point.x - x) ** 2) || 1)
    line = { slope, height: y - slope * x }
    const off = points.map((point) => Math.abs(point.y - line.height - slope * point.x))
    const scale = 6 * Math.max(0.15, [...off].sort((one, other) => one - other)[Math.floor(off.length / 2)])
    weights = points.map((point, index) => (off[index] < scale ? point.step * (1 - (off[index] / scale) ** 2) ** 2 : 0))
  }
  return line
}
