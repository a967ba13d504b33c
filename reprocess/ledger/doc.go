// Package ledger is bytes, hashes and signatures: what an entry of the audit trail looks like
// on disk, how entries become one hash tree, how a checkpoint is signed, and what the evidence
// file is that an auditor checks offline. It does no input or output, reads no clock and knows
// no database; a caller hands it bytes, readers and moments.
//
// # Entry bytes
//
// An entry is one JSON object in the form of RFC 8785 (JSON Canonicalization Scheme), narrowed
// so that every reader in every language reads the same thing:
//
//   - the first byte is { and the last is }; no space, no line end, at most 64 KiB
//   - member names are 1 to 32 of a-z 0-9 _, each once per object, in ascending byte order
//     (for these letters byte order, UTF-16 order and SQLite order agree)
//   - numbers are whole: no fraction, no exponent, no -0, at most 2^53-1 either way
//   - text is valid UTF-8 with no control character below U+0020 and so only two escapes,
//     \" and \\; everything else stands for itself
//   - objects and arrays nest at most 8 deep, the outermost counted
//
// Unicode normalisation (NFC) is not checked here: two spellings of an accented letter are two
// different texts with two different hashes. Whoever takes text from a form normalises it.
//
// A worked record, exactly as hashed (one line, 134 bytes):
//
//	{"act":"receive","at":"2026-11-24T14:05:00.000Z","by":
//	"p7","kit":"K-0042","kit_seq":1,"note":"strap \"worn\"","result":"done","seq":1}
//
// with the leaf hash
//
//	a22ce2d3575ad1b1096d21613c819db63c8048d462b143a3b1acef1e0a980e8b
//
// (broken here after the colon for the width of the page). Five members are known to this
// package by name: seq, the entry's number from 1 without gaps; at, its time; kit, kit_seq and
// kit_prev, the device chain of heads.go; and the event of a roll call. All other members belong
// to package reprocess.
//
// # Times
//
// A time is text of 24 bytes, YYYY-MM-DDTHH:MM:SS.mmmZ, always UTC, always milliseconds.
//
// # Tree
//
// The tree is that of RFC 6962 section 2.1 with SHA-256: leaf = H(0x00 || entry bytes), node =
// H(0x01 || left || right). The bytes hashed are the bytes stored; nothing is printed again to
// verify it. Persons count entries from 1 (seq); the tree counts leaves from 0. Every function
// here takes seq; the subtraction happens inside.
//
// # Checkpoints, roll calls, evidence
//
// See the comments of checkpoint.go, heads.go and evidence.go for their bytes.
package ledger
