// Opens reports in a real browser and says what is wrong with them.
//
//   node pages.mjs LIST.json FOLDER
//
// LIST.json holds [{"name": …, "html": path, "json": path or null}]. Pictures go to FOLDER. Prints one line a complaint;
// exit status 1 when there is any, 3 when the browser cannot be started.
import fs from 'node:fs'
import path from 'node:path'
import { createRequire } from 'node:module'
import { pathToFileURL } from 'node:url'
import puppeteer from 'puppeteer-core'

const axeSource = fs.readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const widths = [360, 800, 1400]
const printable = { width: 672, height: 1001 } // A4 less margins of 16 mm, at 96 pixels an inch

// ---- in the page ------------------------------------------------------------------------------------------

// What sticks out of the window, of its box, or of its picture; and words of a picture that lie on one another.
function overflowing () {
  const found = []
  const edge = window.innerWidth + 0.5
  if (document.documentElement.scrollWidth > edge) found.push(`the page is ${document.documentElement.scrollWidth} wide`)
  const hidden = element => element.closest('thead') !== null && getComputedStyle(element.closest('thead')).position === 'absolute'
  for (const element of document.querySelectorAll('body *')) {
    const box = element.getBoundingClientRect()
    if (box.width === 0 || hidden(element)) continue
    if (box.right > edge || box.left < -0.5) found.push(`<${element.tagName} ${element.getAttribute('class')}> ends at ${box.right}`)
    if (!(element instanceof SVGElement) && element.scrollWidth > element.clientWidth + 1 && element.clientWidth > 0) {
      found.push(`<${element.tagName}> "${element.textContent.slice(0, 30)}" is wider than its box`)
    }
  }
  for (const picture of document.querySelectorAll('svg[role=img]')) {
    const texts = [...picture.querySelectorAll('text')].map(text => ({ text: text.textContent, box: text.getBBox() }))
    const size = picture.viewBox.baseVal
    for (const { text, box } of texts) {
      if (box.x < -1 || box.x + box.width > size.width + 1 || box.y < -1 || box.y + box.height > size.height + 1) found.push(`"${text}" leaves its picture`)
    }
    for (let i = 0; i < texts.length; i++) {
      for (let k = i + 1; k < texts.length; k++) {
        const [a, b] = [texts[i].box, texts[k].box]
        const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x)
        const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y)
        if (wide > 1 && high > 3) found.push(`"${texts[i].text}" lies on "${texts[k].text}" (${picture.getAttribute('aria-label').slice(0, 30)})`)
      }
    }
  }
  return found
}

function figures () {
  return [...document.querySelectorAll('data')].map(element => [Number(element.getAttribute('value')), element.textContent])
}

async function accessibility () {
  const result = await window.axe.run(document, { resultTypes: ['violations'] })
  return result.violations.map(violation => `${violation.id}: ${violation.help} (${violation.nodes.slice(0, 3).map(node => node.target.join(' ')).join(', ')})`)
}

// ---- figures of the JSON ------------------------------------------------------------------------------------

// Every number that is a figure: a value or a bound with its unit.
function figuresOf (value, where, found) {
  if (Array.isArray(value)) value.forEach((item, i) => figuresOf(item, `${where}[${i}]`, found))
  else if (value !== null && typeof value === 'object') {
    for (const key of ['value', 'below', 'rms']) {
      if (typeof value[key] === 'number' && 'unit' in value) found.push({ where, number: value[key] })
    }
    for (const key of Object.keys(value)) figuresOf(value[key], `${where}.${key}`, found)
  }
  return found
}

const prefixes = { p: 1e-12, n: 1e-9, 'µ': 1e-6, m: 1e-3, k: 1e3, M: 1e6, G: 1e9 }

// Whether the text is the number, rounded as it says.
function reads (text, number) {
  const match = /^(?:< )?([+-]?)(\d+)(?:\.(\d+))?(?: ([pnµmkMG])?(?=V|FS|Hz|s\b|A\b))?/.exec(text)
  if (match === null) return false
  const scale = match[4] ? prefixes[match[4]] : 1
  const decimals = (match[3] || '').length
  const shown = Number(`${match[1]}${match[2]}.${match[3] || '0'}`) * scale
  const last = scale * 10 ** -decimals, rounding = 1e-12 * Math.abs(number)
  // a bound is rounded upwards, for what lies above it is not denied
  if (text.startsWith('<') && shown > number) return shown - number < last + rounding
  return Math.abs(shown - number) <= 0.5001 * last + rounding
}

function missing (json, shown) {
  const complaints = []
  const byValue = new Map()
  for (const [value, text] of shown) byValue.set(value, [...(byValue.get(value) || []), text])
  const wanted = figuresOf(json, '', [])
  if (wanted.length === 0) complaints.push('the JSON holds no figure at all')
  for (const { where, number } of wanted) {
    const texts = byValue.get(number)
    if (texts === undefined) complaints.push(`${where} = ${number} is not in the page`)
    else if (!texts.some(text => reads(text, number))) complaints.push(`${where} = ${number} reads "${texts.join('", "')}"`)
  }
  return complaints
}

// ---- one page -----------------------------------------------------------------------------------------------

async function look (browser, job, folder) {
  const complaints = []
  const page = await browser.newPage()
  const own = pathToFileURL(path.resolve(job.html)).href
  page.on('console', message => complaints.push(`console: ${message.text()}`))
  page.on('pageerror', error => complaints.push(`error: ${error.message}`))
  page.on('request', request => { if (request.url() !== own) complaints.push(`request: ${request.url()}`) })
  for (const width of widths) {
    await page.setViewport({ width, height: 900 })
    await page.goto(own, { waitUntil: 'load' })
    for (const open of [false, true]) {
      await page.evaluate(state => document.querySelectorAll('details').forEach(one => { one.open = state }), open)
      for (const text of await page.evaluate(overflowing)) complaints.push(`${width} pixels: ${text}`)
    }
    await page.evaluate(() => document.querySelectorAll('details').forEach(one => { one.open = false }))
    for (const scheme of { 360: ['light'], 800: [], 1400: ['light', 'dark'] }[width]) {
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }])
      if (width === 360 || scheme === 'dark') {
        await page.evaluate(axeSource)
        for (const text of await page.evaluate(accessibility)) complaints.push(`${width} pixels, ${scheme}: ${text}`)
      }
      await page.screenshot({ path: path.join(folder, `${job.name}-${width}-${scheme}.png`), fullPage: true })
    }
  }
  if (job.json) complaints.push(...missing(JSON.parse(fs.readFileSync(job.json, 'utf8')), await page.evaluate(figures)))
  await page.emulateMediaFeatures([])
  await page.emulateMediaType('print')
  await page.setViewport(printable)
  const sheets = await page.evaluate(() => [...document.querySelectorAll('.sheet')].map(one => one.getBoundingClientRect().height))
  if (sheets.length === 0) complaints.push('no job sheet')
  for (const height of sheets) {
    if (height > printable.height && job.name !== 'hostile') complaints.push(`a job sheet of ${height} pixels needs a second page`)
  }
  await page.pdf({ path: path.join(folder, `${job.name}.pdf`), format: 'A4', printBackground: true, preferCSSPageSize: true })
  await page.close()
  return complaints
}

async function main () {
  const [list, folder] = process.argv.slice(2)
  fs.mkdirSync(folder, { recursive: true })
  const profile = fs.mkdtempSync(path.join(folder, 'profile-'))
  let browser
  try {
    browser = await puppeteer.launch({
      executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
      headless: true,
      userDataDir: profile,
      args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking',
        '--disable-component-update', '--disable-sync']
    })
  } catch (error) {
    console.log(`the browser cannot be started: ${error.message}`)
    fs.rmSync(profile, { recursive: true, force: true })
    return 3
  }
  let status = 0
  for (const job of JSON.parse(fs.readFileSync(list, 'utf8'))) {
    const complaints = await look(browser, job, folder)
    complaints.slice(0, 40).forEach(text => console.log(`${job.name}: ${text}`))
    if (complaints.length > 0) status = 1
  }
  await browser.close()
  fs.rmSync(profile, { recursive: true, force: true })
  return status
}

process.exitCode = await main()
