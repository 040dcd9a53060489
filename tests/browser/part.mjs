// Takes a picture of one part of a page, or of its top where SELECTOR is "top":
//   node part.mjs PAGE.html SELECTOR OUT.png [WIDTH] [light|dark|print]
import fs from 'node:fs'
import os from 'node:os'
import path from 'node:path'
import { pathToFileURL } from 'node:url'
import puppeteer from 'puppeteer-core'

const [html, selector, out, width = '1200', scheme = 'light'] = process.argv.slice(2)
const profile = fs.mkdtempSync(path.join(os.tmpdir(), 'gainwalk-part-'))
const browser = await puppeteer.launch({
  executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
  headless: true,
  userDataDir: profile,
  args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync']
})
const page = await browser.newPage()
await page.setViewport({ width: Number(width), height: 900 })
if (scheme === 'print') await page.emulateMediaType('print')
else await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }])
await page.goto(pathToFileURL(path.resolve(html)).href)
if (selector === 'top') await page.screenshot({ path: out })
else await (await page.$(selector)).screenshot({ path: out })
await browser.close()
fs.rmSync(profile, { recursive: true, force: true })
