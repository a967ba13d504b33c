package ledger

import (
	"errors"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
)

// The evidence file, version 1
//
// A zip of exactly nine members in this order, each stored (not compressed), so that anybody
// can look inside with a common program, and so that every byte of the file can be written
// again from what was read and compared. All text is UTF-8 with LF line ends.
//
//	CHECK.txt        how to check, for people; the only member that proves nothing
//	entries.ndjson   the entries, canonical bytes + LF each, ascending seq
//	entries.csv      a table of the entries        \ both can be computed again
//	cycles.csv       a table of the cycles in them / from entries.ndjson
//	proof.txt        the hashes of what is left out, see below; empty for a whole log
//	rollcall.ndjson  empty, or one line that shows a device's entries are all here
//	checkpoint.txt   the signed checkpoint of the whole log, see Checkpoint
//	key.txt          the public key + LF, see NewKey
//	MANIFEST.txt     a note (c2sp.org/signed-note) signed with that key
//
// MANIFEST.txt before its signature, LF after each line, one space between fields:
//
//	evidence 1
//	origin site/8f3a2c                              as in the checkpoint
//	at 2026-11-24T14:05:00.000Z                     when it was made
//	scope everything                                or in words; "everything" means seq 1 to size
//	entries 12                                      lines in entries.ndjson
//	entries.ndjson 3456 <SHA-256 in hex>            bytes and hash of each member between
//	…                                               CHECK.txt and MANIFEST.txt, in order
//	key.txt 59 <SHA-256 in hex>
//
// proof.txt has a line for each complete subtree (1, 2, 4, 8 … entries) that is left out:
//
//	FIRST COUNT HASH                                seq of its first entry, decimal, hex
//
// Entries and subtrees together cover 1 to size once each. To check, go through both in order
// of seq and build the tree: an entry adds the leaf H(0x00 || bytes), a line adds its hash as
// a subtree of COUNT entries (COUNT divides FIRST-1); the root must be the checkpoint's. So
// each entry is proved at its place, and a period costs some forty lines, not forty per entry.
//
// rollcall.ndjson, if not empty, is one line of canonical bytes + LF:
//
//	{"entry":N,"index":I,"kit":"K-0042","kit_seq":12,"leaf":"<hex>","path":["<hex>",…]}
//
// Entry N is present and records a roll call (event "roll_called" with kits and root). Its
// tree has a leaf H(0x00 || {"kit":…,"kit_seq":…,"leaf":…}) per device, in byte order of the
// device; path is the RFC 6962 audit path of leaf I. Then of this device exactly kit_seq
// entries before N must be present, numbered from 1, chained by kit_prev, ending in leaf. The
// roll call itself is somebody's entry: whoever holds the whole log can compute it again (and
// the check of a whole log does), the holder of one device's part relies on it.
//
// The zip: no directory entries, comments, extra fields or data descriptors. Local header
// (little endian): 50 4b 03 04, version 20, flags 0, method 0, time 0, date 33 (1980-01-01),
// CRC-32, length twice, length of the name, 0, name. Then the bytes; then the next member at
// once. Central directory likewise: 50 4b 01 02, made by 20 on Unix (3), version 20, flags 0,
// method 0, time 0, date 33, CRC-32, length twice, length of the name, four times 0 (16 bit),
// attributes 0100644 << 16, offset, name. End: 50 4b 05 06, 0, 0, 9, 9, length and offset of
// the directory, 0. No zip64: an evidence file is below 4 GiB.

// The members, in order.
const (
	memberCheck = iota
	memberEntries
	memberEntriesCSV
	memberCyclesCSV
	memberProof
	memberRoll
	memberCheckpoint
	memberKey
	memberManifest
	memberCount
)

var memberNames = [memberCount]string{"CHECK.txt", "entries.ndjson", "entries.csv", "cycles.csv",
	"proof.txt", "rollcall.ndjson", "checkpoint.txt", "key.txt", "MANIFEST.txt"}

// The names of the two tables, as a CSVFunc gets them.
const (
	EntriesCSV = "entries.csv"
	CyclesCSV  = "cycles.csv"
)

// ScopeEverything is the scope of a file that holds the whole log.
const ScopeEverything = "everything"

// CSVFunc writes one of the two tables from the entries; the same entries must give the same
// bytes for ever, or an old evidence file could not be checked.
type CSVFunc func(name string, entries iter.Seq2[[]byte, error], w io.Writer) error

// Unreadable marks what could not be read as an evidence file at all (or a key or retained
// checkpoint beside it); every other error of CheckEvidence is a difference that was found.
type Unreadable struct{ Err error }

// Error is the sentence.
func (u *Unreadable) Error() string { return u.Err.Error() }

// Unwrap gives the cause.
func (u *Unreadable) Unwrap() error { return u.Err }

// manifest is MANIFEST.txt without its signature.
type manifest struct {
	origin  string
	at      int64
	scope   string
	entries int64
	members []memberSum // from entries.ndjson to key.txt
}

// memberSum is what the manifest says of one member.
type memberSum struct {
	size int64
	hash Hash
}

// format prints the manifest.
func (m manifest) format() string {
	var b strings.Builder
	fmt.Fprintf(&b, "evidence 1\norigin %s\nat %s\nscope %s\nentries %d\n",
		m.origin, FormatTime(m.at), m.scope, m.entries)
	for i, s := range m.members {
		fmt.Fprintf(&b, "%s %d %s\n", memberNames[i+memberEntries], s.size, s.hash)
	}
	return b.String()
}

// check says what a manifest may hold; format and parseManifest agree on it.
func (m manifest) check() error {
	if err := CheckOrigin(m.origin); err != nil {
		return err
	}
	if m.scope == "" || len(m.scope) > 500 || !printable(m.scope) {
		return errors.New("the scope is one line of 1 to 500 printable bytes")
	}
	if m.entries < 1 {
		return errors.New("an evidence file holds at least one entry")
	}
	return nil
}

// manifestLines: five lines at the head, one per member, and the empty rest after the last LF.
const manifestLines = 5 + memberManifest - memberEntries + 1

// parseManifest reads exactly what format prints.
func parseManifest(text string) (manifest, error) {
	bad := errors.New("MANIFEST.txt is not a manifest of version 1 in its one spelling")
	lines := strings.Split(text, "\n")
	if len(lines) != manifestLines {
		return manifest{}, bad
	}
	var m manifest
	m.origin = strings.TrimPrefix(lines[1], "origin ")
	m.at, _ = ParseTime(strings.TrimPrefix(lines[2], "at "))
	m.scope = strings.TrimPrefix(lines[3], "scope ")
	m.entries, _ = strconv.ParseInt(strings.TrimPrefix(lines[4], "entries "), 10, 64)
	for _, line := range lines[5 : manifestLines-1] {
		f := strings.Split(line, " ")
		if len(f) != 3 {
			return manifest{}, bad
		}
		size, _ := strconv.ParseInt(f[1], 10, 64)
		hash, _ := ParseHash(f[2])
		m.members = append(m.members, memberSum{size, hash})
	}
	if m.format() != text { // whatever was not understood above does not print back
		return manifest{}, bad
	}
	return m, m.check()
}

// proofLine is one line of proof.txt: a subtree of 1<<level entries that is left out.
type proofLine struct {
	first int64
	level int
	hash  Hash
}

// String prints the line with its LF.
func (p proofLine) String() string {
	return fmt.Sprintf("%d %d %s\n", p.first, int64(1)<<p.level, p.hash)
}

// parseProofLine reads exactly what String prints.
func parseProofLine(line string) (proofLine, error) {
	f := strings.Split(strings.TrimSuffix(line, "\n"), " ")
	if len(f) == 3 {
		first, _ := strconv.ParseInt(f[0], 10, 64)
		count, _ := strconv.ParseInt(f[1], 10, 64)
		hash, _ := ParseHash(f[2])
		p := proofLine{first: first, level: levelOf(count), hash: hash}
		if p.first > 0 && p.String() == line {
			return p, nil
		}
	}
	return proofLine{}, fmt.Errorf("proof.txt: %q is not a line like 17 16 <64 hex digits>",
		clip(strings.TrimSuffix(line, "\n")))
}

// levelOf is the logarithm of a power of two; of another number it is one that does not print
// back.
func levelOf(count int64) (level int) {
	for count > 1 && level < 52 {
		count >>= 1
		level++
	}
	return level
}

// rollLine is the line of rollcall.ndjson.
type rollLine struct {
	Entry  int64    `json:"entry"`
	Index  int64    `json:"index"`
	Kit    string   `json:"kit"`
	KitSeq int64    `json:"kit_seq"`
	Leaf   string   `json:"leaf"`
	Path   []string `json:"path"`
}

// CheckText is CHECK.txt when the caller has no better words.
const CheckText = `HOW TO CHECK THIS FILE

This file holds entries of an audit trail, and with them what is needed to see whether they
were changed. You need no network and need not trust whoever gave it to you. You need:

1. the public key of the site, from paper or another place than this file (key.txt in here
   shows only that the file agrees with itself);
2. if you have one, a checkpoint you were given earlier;
3. the program that wrote this, with the command  verify --evidence FILE --key KEY
   or python3 and the script verify_evidence.py that comes with its source.

What is checked: every byte of every member but this page stands with its SHA-256 in
MANIFEST.txt, which is signed; every entry is shown to stand at its number in the log whose
root is in checkpoint.txt, which is signed too; the tables are computed again from the entries.

What cannot be seen from here: an entry that was false when it was written; entries newer than
the checkpoint; and, without a checkpoint kept outside, a whole log that was invented by
somebody who has the key.
`
