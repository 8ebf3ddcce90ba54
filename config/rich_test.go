package config

// A good folder that uses every key of a program and of an enrollment. Ben
// left it long ago.
const richProgram = `program: steady
title: {en: Loading the calf}
approved: {by: J. Marlowe DPM, on: 2026-10-01}
length: 12 weeks
exercises:
  raise:
    kind: strength
    name: Heel raise on a step
    side: each
    needs: [step, towel]
    how: Rise on one foot.
    easier: Rise on both feet.
    care: Stop on sharp pain.
    why: Makes the calf strong.
  calf:
    kind: stretch
    name: Wall calf stretch
    side: each
    how: Lean in.
    forms: {toes-in: "Turn the toes in, then lean.", toes-out: {en: Turn the toes out.}}
weeks:
  1:
    - {do: raise, sets: 3, reps: 12, on: every other day, rest: 2 min, load: 12RM, tempo: 3/2/3}
    - {do: calf, form: toes-in, reps: 3, hold: 20s, on: [mon, thu]}
    - {do: calf, form: toes-out, reps: 3, hold: 20s, on: [mon, thu]}
  3:
    - {do: raise, sets: 4, reps: 10, load: {en: a light band}, on: 3 days a week, side: affected}
wear: {first: 1h, add: 30 min, every: 2 days, full: 8h, during hold: goes on}
pain: {steady: 2, hold: 5, step back: 6, pause: 9, clear days: 3}
advance: {done: 80%, of last: 1 week, scores: 3}
first step: {every: 14 days, rise: 3}
review before week: [3, 6]
maintenance:
  for: 6 months
  messages: 2 a week
  doses:
    - {do: raise, sets: 2, reps: 10, load: body weight}
    - {do: calf, reps: 3, sessions: 2}
`

const richEnrollments = `enrollments:
  - id: ada-1
    name: Ada
    proxy: {name: Grace, relation: mother}
    program: steady
    dispensed: 2026-10-05
    start: 2026-10-06
    starting day: 15
    affected: left
    cautions: [reduced sensation, diabetes, balance, growing]
    usual: {pain: 2, first step: 4}
    usual words: [fell, numb]
    pain: {hold: 4, clear days: 5, by: J. Marlowe DPM, on: 2026-10-05}
    tailor:
      - {exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}
      - {leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}
    devices:
      - {dispensed: 2026-10-05}
      - {adjusted: 2026-10-20}
      - {out: 2026-10-22}
      - {back: 2026-10-29}
      - {remade: 2026-11-20}
      - {second pair: 2026-12-01}
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM, covers: [export, texts]}
    spool: ada
    language: en
    zone: America/Chicago
    time: 09:00
    review visits: [2026-11-20, 2027-01-15]
    entries:
      - {hold: 2026-10-12, by: J. Marlowe DPM, why: swollen}
      - {release: 2026-10-14, by: J. Marlowe DPM, as before: true}
      - {cap: 1, on: 2026-10-14, by: J. Marlowe DPM}
      - {confirm contact: 2026-10-15, by: J. Marlowe DPM}
      - {release wear: 2026-10-16, by: J. Marlowe DPM}
      - {review done: 2026-11-20, by: J. Marlowe DPM}
      - {strike: 2026-10-14, on: 2026-10-15, by: J. Marlowe DPM, why: meant 3}
      - {replace: 2026-10-12, score: 3, on: 2026-10-15, by: J. Marlowe DPM, why: typed 33}
  - id: ben-2
    name: Ben
    program: steady
    dispensed: 2024-10-05
    consent: {on: 2024-10-05, how: in writing, by: J. Marlowe DPM}
    email: ben@example.com
    time: 09:00
    tailor:
      - {exercise: raise, sets: 3, by: J. Marlowe DPM, on: 2024-10-05}
    entries:
      - {discharge: 2024-12-12, by: J. Marlowe DPM}
  - id: cy-3
    name: Cy
    program: steady
    dispensed: 2026-10-05
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}
    sms: "+12125550123"
    time: 09:00
`

// rich returns that folder's files by path.
func rich() map[string]string {
	files := base()
	files[steadyFile], files[enrollmentsFile] = richProgram, richEnrollments
	return files
}
