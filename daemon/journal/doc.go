// Package journal is the append-only record of everything that was decided,
// sent and answered, and the only code that touches the database file.
//
// Events are the truth. Each is a record of metadata, chained by hash to the
// one before, and a payload encrypted under its subject's own key; the chain
// covers the hash of the encrypted payload, so destroying the key and the
// payload of one subject leaves the chain whole. Everything else in the file
// (state of each enrollment, who is due when, the outbox, seen carrier ids,
// opt-outs) is derived: [Tx.Append] writes the event and applies it, and
// applying is the only way anything derived changes, so that a replay of the
// events gives the same bytes again.
//
// Somebody who is erased leaves their records in the chain, without a key or a
// payload, and an Erased event; then what is derived is what the events of all
// others give. The bytes go with [Compact].
//
// Applying never decides. Events carry outcomes.
package journal
