package export

import (
	"io"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// entryRow is one entry with what earlier entries tell about the names in it.
type entryRow struct {
	*reprocess.Entry
	leaf   ledger.Hash
	roles  string
	number string
	facts
}

// entryColumns is the table of entries. Never change, reorder or remove one.
var entryColumns = []column[*entryRow]{
	{Column{"seq", "", "number of the entry, 1-based, without gaps", false},
		func(r *entryRow) string { return strconv.FormatInt(r.Seq, 10) }},
	{Column{"at", "UTC", "time by the server, to the millisecond", false},
		func(r *entryRow) string { return r.At.String() }},
	{Column{"phone_at", "UTC", "time by the clock of the phone; empty: not told", false},
		func(r *entryRow) string { return instant(r.PhoneAt) }},
	{Column{"site", "", "site", true}, func(r *entryRow) string { return r.Site }},
	{Column{"act", "", "what somebody did", true},
		func(r *entryRow) string { return string(r.Act) }},
	{Column{"result", "", "done or refused", true}, func(r *entryRow) string { return r.Result }},
	{Column{"by", "", "id of the person", true}, func(r *entryRow) string { return r.By }},
	{Column{"name", "", "printed name of the person", true},
		func(r *entryRow) string { return r.Name }},
	{Column{"roles", "", "roles of the person at that time, as earlier entries here say", true},
		func(r *entryRow) string { return r.roles }},
	{Column{"signed", "", "yes: own secret entered again for this act", true},
		func(r *entryRow) string { return yes(r.Signed) }},
	{Column{"second", "", "id of the second signatory", true},
		func(r *entryRow) string { return r.Second }},
	{Column{"phone", "", "id of the phone or station", true},
		func(r *entryRow) string { return r.Phone }},
	{Column{"kit", "", "id of the kit", true}, func(r *entryRow) string { return r.Kit }},
	{Column{"kit_number", "", "pool number of the kit, as earlier entries here say", true},
		func(r *entryRow) string { return r.number }},
	{Column{"kit_seq", "", "number of the entry among those of the kit, 1-based", false},
		func(r *entryRow) string { return count(r.KitSeq) }},
	{Column{"pieces", "", "ids of the pieces named", true}, list(pieceIDs)},
	{Column{"cycles", "", "ids of the cycles named", true}, list(cycleIDs)},
	{Column{"loans", "", "ids of the loans named", true}, list(loanIDs)},
	{Column{"procedure", "", "procedure and version of the cycles named", true}, list(procedures)},
	{Column{"events", "", "what happened, by its stable names", true}, list(eventNames)},
	{Column{"records", "", "kinds of records, step:kind", true}, list(recordKinds)},
	{Column{"answers", "", "answers, question=value", true}, list(answerTexts)},
	{Column{"containers", "", "ids of the containers used", true}, list(containerIDs)},
	{Column{"lots", "", "ids of the lots named", true}, list(lotIDs)},
	{Column{"products", "", "ids of the disinfectants used", true}, list(productIDs)},
	{Column{"needed_s", "s", "contact time in force", false},
		func(r *entryRow) string { return count(r.needed) }},
	{Column{"not_looked_s", "s", "time nobody looked at the wet surface", false},
		func(r *entryRow) string { return count(r.notLooked) }},
	{Column{"reason", "", "reasons given", true}, list(reasons)},
	{Column{"refusal_code", "", "kind of a refusal", true}, refusal(refusalCode)},
	{Column{"rule", "", "rule that refused", true}, refusal(refusalRule)},
	{Column{"refusal", "", "sentence of the refusal", true}, refusal(refusalText)},
	{Column{"fix", "", "what to do, as the person read it", true}, refusal(refusalFix)},
	{Column{"asked", "", "what was asked for, where it was refused, as JSON", true},
		func(r *entryRow) string { return string(r.Asked) }},
	{Column{"key", "", "key of the request; the same key counts once", true},
		func(r *entryRow) string { return r.Key }},
	{Column{"leaf", "", "SHA-256 of a zero byte and the entry's bytes, hex", true},
		func(r *entryRow) string { return r.leaf.String() }},
}

// writeEntries goes through all entries, remembers names, and writes the chosen ones.
func writeEntries(w io.Writer, entries Entries, c Choice) (int64, error) {
	out, err := newCSV(w, entryColumns)
	if err != nil {
		return 0, err
	}
	known := newNames()
	for line, err := range inOrder(entries) {
		if err != nil {
			return out.rows, err
		}
		e := line.Entry
		row := known.row(line)
		known.learn(e)
		if !c.holds(e.At, e.Kit) || !c.Only.has(e.Seq) {
			continue
		}
		if err := out.row(row); err != nil {
			return out.rows, err
		}
	}
	return out.rows, nil
}

// names is what the table of entries remembers: bounded by staff and kits, not by entries.
type names struct {
	roles, numbers, procedures map[string]string // by person, kit, piece
}

func newNames() *names {
	return &names{map[string]string{}, map[string]string{}, map[string]string{}}
}

// learn takes what an entry says about names; refused entries say nothing.
func (n *names) learn(e *reprocess.Entry) {
	if e.Result != reprocess.ResultDone {
		return
	}
	for _, b := range e.Events {
		switch v := b.Event.(type) {
		case reprocess.PersonSet:
			n.roles[v.ID] = joinRoles(v.Roles)
		case reprocess.KitRegistered:
			n.numbers[v.Kit.ID] = v.Kit.Number
		case reprocess.CycleOpened:
			n.procedures[v.Piece] = v.Procedure
		}
	}
}

// row collects what an entry names. A person who is not on the staff yet has no roles.
func (n *names) row(line *readLine) *entryRow {
	e := line.Entry
	r := &entryRow{Entry: e, leaf: line.leaf, roles: n.roles[e.By], number: n.numbers[e.Kit]}
	for _, b := range e.Events {
		r.take(b.Event, n)
		if v, ok := b.Event.(reprocess.KitRegistered); ok && v.Kit.ID == e.Kit {
			r.number = v.Kit.Number
		}
	}
	return r
}

func joinRoles(roles []reprocess.Role) string {
	var texts []string
	for _, r := range roles {
		texts = append(texts, string(r))
	}
	return strings.Join(texts, " ")
}

func refusalCode(r *reprocess.Refusal) string { return string(r.Code) }
func refusalRule(r *reprocess.Refusal) string { return r.Rule }
func refusalText(r *reprocess.Refusal) string { return r.Text }
func refusalFix(r *reprocess.Refusal) string  { return r.Fix }

func refusal(get func(*reprocess.Refusal) string) func(*entryRow) string {
	return func(r *entryRow) string {
		if r.Refusal == nil {
			return ""
		}
		return get(r.Refusal)
	}
}

func list(kind factKind) func(*entryRow) string {
	return func(r *entryRow) string { return strings.Join(r.lists[kind], separators[kind]) }
}

func instant(i reprocess.Instant) string {
	if i == 0 {
		return ""
	}
	return i.String()
}

// count prints a number whose zero means that there is none.
func count[N int | int64](n N) string {
	if n == 0 {
		return ""
	}
	return strconv.FormatInt(int64(n), 10)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// addOnce appends what is neither empty nor there.
func addOnce(list []string, more ...string) []string {
	for _, s := range more {
		if s != "" && !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	return list
}
