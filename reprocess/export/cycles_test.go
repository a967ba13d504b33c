package export

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// Entries written by hand; the expected cells were worked out by hand from them. Contact time
// is the longest unbroken watched interval (our practice).

// log writes entries one after the other, a second apart unless told.
type log struct {
	strings.Builder
	seq int64
}

// add writes an entry at minutes:seconds after 08:00 with events as JSON.
func (l *log) add(at, by, kit string, events ...string) {
	l.seq++
	fmt.Fprintf(l, `{"seq":%d,"at":"2027-05-10T08:%s.000Z","site":"A","act":"step","result":"done",`+
		`"by":%q,"name":"N","kit":%q,"kit_seq":1,"events":[%s]}`+"\n", l.seq, at, by, kit,
		strings.Join(events, ","))
}

func event(name, data string) string {
	return `{"event":"` + name + `","data":` + data + `}`
}

func record(cycle, piece, record string) string {
	return event("step_recorded", `{"cycle":"`+cycle+`","piece":"`+piece+`","record":{"kind":"answer",`+
		`"seq":0,"mark":{},"by":"","name":"",`+record+`}}`)
}

func wet(kind, more string) string {
	return record("C1", "P1", `"step":"disinfection"`+more+`,"kind":"`+kind+`"`)
}

// day is one kit with two pieces: P1 wetted twice, released; P2 broken off by a take-back.
func day() *log {
	l := &log{}
	l.add("00:00", "S1", "", event("person_set", `{"id":"S2","name":"=Eve","roles":["release","technician"]}`),
		event("model_set", `{"id":"M1","name":"Rook, 3","kind":"recorder"}`),
		event("lot_set", `{"id":"T1","kind":"disinfectant","product":"D1","number":"-7"}`),
		event("lot_set", `{"id":"T2","kind":"disinfectant","product":"D1","number":"L 8"}`),
		event("product_set", `{"id":"D1","name":"Wipe"}`))
	l.add("00:01", "S1", "K1", event("kit_registered", `{"kit":{"id":"K1","number":"12","site":"A",`+
		`"pieces":["P1","P2"],"recording":{"status":"unknown"}},"pieces":[{"id":"P1","kind":"recorder",`+
		`"model":"M1","serial":"0042","kit":"K1","at_least":true,"cycles":3,"state":"returned"},`+
		`{"id":"P2","kind":"phone","model":"M9","serial":"+7","kit":"K1","state":"returned"}],`+
		`"loan":{"id":"L1","kit":"K1","pieces":["P1","P2"],"taken_over":true}}`))
	l.add("01:00", "S2", "K1", event("cycle_opened", `{"cycle":"C1","piece":"P1","kit":"K1","number":4,`+
		`"procedure":"R1@2","loan":"L1","flags":["tb","respiratory"]}`),
		event("cycle_opened", `{"cycle":"C2","piece":"P2","kit":"K1","number":1,"procedure":"R2@1"}`),
		record("C1", "P1", `"step":"receipt","answers":[{"ask":"condition","value":"whole"}],"late":true`))
	for _, w := range []struct{ at, kind, more string }{
		{"10:00", "wet_now", `,"container":"B1","lot":"T1","product":"D1","needed_s":60`},
		{"10:30", "looks_wet", ""}, {"10:40", "seen_dry", ""},
		{"20:00", "wet_now", `,"container":"B2","lot":"T2","product":"D1","needed_s":60`},
		{"21:05", "looks_wet", `,"not_look_s":35`},
	} {
		l.add(w.at, "S2", "K1", wet(w.kind, w.more))
	}
	l.add("30:00", "S3", "K1", record("C1", "P1", `"step":"drying","answers":[{"ask":"dry","value":"again",`+
		`"effect":"again"}]`))
	l.add("31:00", "S3", "K1", record("C1", "P1", `"step":"drying","answers":[{"ask":"dry","value":"yes"}],`+
		`"learning":true`))
	l.add("32:00", "S3", "K1", record("C1", "P1", `"step":"battery","answers":[{"ask":"cell","value":"T9"}]`))
	l.add("33:00", "S3", "K1", record("C1", "P1", `"step":"inspection","answers":[{"ask":"sound",`+
		`"value":"all"}]`))
	l.add("33:10", "S3", "K1", event("undone", `{"of":12,"kit":"K1","cycles":["C1"]}`))
	l.add("34:00", "S4", "K1", record("C1", "P1", `"step":"function_test","kind":"override",`+
		`"reason":"bench, broken"`))
	l.add("40:00", "S5", "K1", event("kit_released", `{"kit":"K1","name":"N","meaning":"m","cycles":[`+
		`{"piece":"P1","cycle":"C1"}]}`))
	l.add("50:00", "S5", "K1", event("taken_back", `{"kit":"K1","came":["P1","P2"],"return":{"skin":"no",`+
		`"fault":"no","missing":"no"}}`))
	return l
}

// table reads a table back as one map per row.
func table(t testing.TB, which Table, text string, c Choice) []map[string]string {
	t.Helper()
	var b bytes.Buffer
	n, err := WriteCSV(&b, which, lines([]byte(text)), c)
	require.NoError(t, err)
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.EqualValues(t, len(rows)-1, n)
	var all []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		all = append(all, m)
	}
	return all
}

func filled(row map[string]string) map[string]string {
	for k, v := range row {
		if v == "" {
			delete(row, k)
		}
	}
	return row
}

func TestCyclesByHand(t *testing.T) {
	rows := table(t, TableCycles, day().String(), Choice{})
	require.Len(t, rows, 2)
	require.Equal(t, map[string]string{"cycle": "C1", "piece": "P1", "kind": "recorder",
		"model": "Rook, 3", "serial": "0042", "kit": "K1", "kit_number": "12", "number": "4",
		"number_at_least": "yes", "procedure": "R1@2", "opened": "2027-05-10T08:01:00.000Z",
		"opened_entry": "3", "loan": "L1", "loan_taken_over": "yes", "flags": "tb respiratory",
		"contact_s": "65.000", "needed_s": "60", "wet_long_enough": "yes", "wettings": "2",
		"not_looked_s": "35", "containers": "B1 B2", "lots": "T1 T2", "lot_numbers": "'-7; L 8",
		"products": "D1", "product_names": "Wipe", "cell_lot": "T9",
		"steps_done":     "receipt disinfection drying battery function_test",
		"failed_answers": "drying dry=again", "overrides": "function_test: bench, broken",
		"late": "yes", "learning": "1", "not_countersigned": "1", "taken_back": "1",
		"people": "S2 S3 S4", "end": "released", "ended": "2027-05-10T08:40:00.000Z",
		"releaser": "S5", "release_entry": "15"}, filled(rows[0]))
	require.Equal(t, map[string]string{"cycle": "C2", "piece": "P2", "kind": "phone", "model": "M9",
		"serial": "+7", "kit": "K1", "kit_number": "12", "number": "1", "procedure": "R2@1",
		"opened": "2027-05-10T08:01:00.000Z", "opened_entry": "3", "end": "broken_off",
		"ended": "2027-05-10T08:50:00.000Z", "end_reason": "taken back"}, filled(rows[1]))
}

// TestCyclesOfAPart: what began before the part is shown with what is there, and says so by an
// empty beginning.
func TestCyclesOfAPart(t *testing.T) {
	all := strings.SplitAfter(day().String(), "\n")
	rows := table(t, TableCycles, strings.Join(all[7:], ""), Choice{})
	require.Len(t, rows, 1)
	require.Equal(t, "C1", rows[0]["cycle"])
	require.Empty(t, rows[0]["opened"])
	require.Empty(t, rows[0]["opened_entry"])
	require.Equal(t, "K1", rows[0]["kit"])
	require.Equal(t, "released", rows[0]["end"])
}

// TestRefusedEntriesChangeNoCycle: their events, if any were there, did not happen.
func TestRefusedEntriesChangeNoCycle(t *testing.T) {
	text := strings.ReplaceAll(day().String(), `"result":"done"`, `"result":"refused"`)
	require.Empty(t, table(t, TableCycles, text, Choice{}))
}

func TestEntriesByHand(t *testing.T) {
	l := day()
	l.seq++
	fmt.Fprintf(l, `{"seq":%d,"at":"2027-05-10T08:51:00.000Z","phone_at":"2027-05-10T08:49:59.000Z",`+
		`"site":"A","act":"release","result":"refused","by":"S2","name":"=Eve","phone":"PH1","signed":true,`+
		`"second":"S9","key":"k1","asked":{"kit":"K1"},"refusal":{"code":"refused","rule":"steps",`+
		`"text":"Not yet.","fix":"Do it."}}`+"\n", l.seq)
	rows := table(t, TableEntries, l.String(), Choice{})
	require.Len(t, rows, int(l.seq))
	last := filled(rows[len(rows)-1])
	require.Len(t, last["leaf"], 64)
	delete(last, "leaf")
	require.Equal(t, map[string]string{"seq": "17", "at": "2027-05-10T08:51:00.000Z",
		"phone_at": "2027-05-10T08:49:59.000Z", "site": "A", "act": "release", "result": "refused",
		"by": "S2", "name": "'=Eve", "roles": "release technician", "signed": "yes", "second": "S9",
		"phone": "PH1", "key": "k1", "asked": `{"kit":"K1"}`, "refusal_code": "refused",
		"rule": "steps", "refusal": "Not yet.", "fix": "Do it."}, last)
	wetNow := filled(rows[3])
	require.Equal(t, "disinfection:wet_now", wetNow["records"])
	require.Equal(t, []string{"60", "B1", "T1", "D1", "12", "R1@2", "P1", "C1"},
		[]string{wetNow["needed_s"], wetNow["containers"], wetNow["lots"], wetNow["products"],
			wetNow["kit_number"], wetNow["procedure"], wetNow["pieces"], wetNow["cycles"]})
	require.Equal(t, "12", rows[1]["kit_number"], "the entry that registers it has it already")
	require.Equal(t, "dry=again", rows[8]["answers"])
	require.Equal(t, "L1", rows[1]["loans"])
}

// TestChoice: the window is half open; names from outside it are still known.
func TestChoice(t *testing.T) {
	from, err := reprocess.ParseInstant("2027-05-10T08:10:00.000Z")
	require.NoError(t, err)
	to, err := reprocess.ParseInstant("2027-05-10T08:20:00.000Z")
	require.NoError(t, err)
	c := Choice{From: from, To: to, Kit: "K1"}
	rows := table(t, TableEntries, day().String(), c)
	require.Len(t, rows, 3)
	require.Equal(t, "4", rows[0]["seq"])
	require.Equal(t, "12", rows[0]["kit_number"])
	require.Equal(t, "release technician", rows[0]["roles"])
	require.Equal(t, "kit K1 from 2027-05-10T08:10:00.000Z before 2027-05-10T08:20:00.000Z",
		c.Words())
	require.Equal(t, "everything", Choice{}.Words())
	require.Equal(t, "all kits from 2027-05-10T08:10:00.000Z", Choice{From: from}.Words())
	require.Empty(t, table(t, TableCycles, day().String(), c))
	require.Len(t, table(t, TableCycles, day().String(), Choice{To: from}), 2)
	require.Empty(t, table(t, TableEntries, day().String(), Choice{Kit: "K2"}))
}

func TestFindKit(t *testing.T) {
	text := day().String()
	for _, name := range []string{"K1", "12"} {
		id, err := FindKit(lines([]byte(text)), name)
		require.NoError(t, err)
		require.Equal(t, "K1", id)
	}
	_, err := FindKit(lines([]byte(text)), "13")
	require.ErrorContains(t, err, `no kit "13"`)
	twice := text + strings.ReplaceAll(text, `"id":"K1"`, `"id":"K2"`)
	_, err = FindKit(lines([]byte(twice)), "12")
	require.ErrorContains(t, err, "K1 and K2 both")
	id, err := FindKit(lines([]byte(twice)), "K2")
	require.NoError(t, err)
	require.Equal(t, "K2", id)
}
