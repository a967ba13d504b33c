package main

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The answers over a data folder are compared with the same algorithm written anew in Python
// over the rows of the database (source: the steps in our reference on look-back, after
// Rutala and Weber 2007 and CDC), for the keys lot, piece, person and window.
const lookbackPython = `
import json, sqlite3, sys
db = sqlite3.connect('file:' + sys.argv[1] + '/ledger.db?immutable=1', uri=True)
lot, piece, person, kind = (sys.argv[2:] + [''] * 4)[:4]
cycles = [json.loads(r[0]) for r in db.execute('SELECT doc FROM cycle')]
loans = [json.loads(r[0]) for r in db.execute('SELECT doc FROM loan')]
lots = {l['id'] for l in (json.loads(r[0]) for r in db.execute('SELECT doc FROM lot'))
        if lot in (l['id'], l.get('number'))}
def attempts(c):
    for r in c['records']:
        if r.get('undone'): continue
        if kind == 'cells' and r['step'] == 'battery':
            for a in r.get('answers', []):
                if a['ask'] == 'cell': yield r['mark']['at'], a['value']
        elif kind != 'cells' and r['kind'] == 'wet_now':
            yield r['mark']['at'], r['lot']
def hit(c):
    if piece and c['piece'] != piece: return False
    who = {r['by'] for r in c['records'] if not r.get('undone')} | {c.get('releaser')}
    if person and person not in who: return False
    a = sorted(attempts(c))
    return bool(a) and (not lot or a[-1][1] in lots)
affected = {c['id'] for c in cycles if hit(c)}
exposed = set()
def stands_for_others(l):  # a ward's own loan, once each who wore it there has one of their own
    if not l.get('ward') or l.get('under'): return False
    if not l.get('back'):
        return any(w.get('under') == l['id'] and not w.get('back') for w in loans)
    told = l['return'].get('worn', '')
    return told.isdigit() and int(told) <= l.get('worn', 0)
for l in loans:
    if l.get('undone') or not l.get('out') or stands_for_others(l): continue
    for p in l['pieces']:
        before = [c for c in cycles if c['piece'] == p and c.get('end') == 'released'
                  and c['ended'] <= l['out']]
        if before and max(before, key=lambda c: c['ended'])['id'] in affected:
            exposed.add(l['id'])
def shared(l):  # came back from a ward where a second one may have worn it
    if not l.get('ward') or l.get('under') or not l.get('back'): return False
    told = l['return'].get('worn', '')
    return not told.isdigit() or int(told) > max(1, l.get('worn', 0))
after = sorted(l['id'] for l in loans if l.get('after') or shared(l))
print(json.dumps([sorted(affected), sorted(exposed), after]))
`

func expectLookback(t *testing.T, dir string, keys ...string) []any {
	t.Helper()
	var want []any
	require.NoError(t, json.Unmarshal([]byte(python(t, lookbackPython,
		append([]string{dir}, keys...)...)), &want))
	return want
}

func TestLookbackInADataFolder(t *testing.T) {
	dir := invented(t, 60)
	file := "file:" + dir + "/ledger.db?immutable=1"
	one := func(sql string) string { return strings.TrimSpace(shell(t, file, sql)) }
	lot := one("SELECT doc ->> 'number' FROM lot WHERE doc ->> 'kind' = 'disinfectant' LIMIT 1")
	cells := one("SELECT doc ->> 'number' FROM lot WHERE doc ->> 'kind' = 'cells' LIMIT 1")
	piece := one("SELECT doc ->> 'piece' FROM cycle ORDER BY id LIMIT 1")
	serial := one("SELECT doc ->> 'serial' FROM piece WHERE id = '" + piece + "'")
	person := one("SELECT doc ->> 'id' FROM person WHERE doc ->> 'sign_in' = 'rosa'")
	for _, c := range []struct{ args, keys []string }{
		{[]string{"--lot", lot}, []string{lot}},
		{[]string{"--lot", one("SELECT id FROM lot WHERE doc ->> 'number' = '" + lot + "'")},
			[]string{lot}},
		{[]string{"--lot", cells}, []string{cells, "", "", "cells"}},
		{[]string{"--piece", piece}, []string{"", piece}},
		{[]string{"--piece", serial}, []string{"", piece}},
		{[]string{"--person", "rosa"}, []string{"", "", person}},
		{[]string{"--person", "rosa", "--lot", lot, "--piece", serial}, []string{lot, piece, person}},
	} {
		got := answer(t, append([]string{"lookback", "--data", dir, "--json"}, c.args...)...)
		requireKeys(t, got, "cycles", "caught", "exposed", "unreleased", "sources", "recall",
			"embargo", "restart", "unresolved", "wearers")
		want := expectLookback(t, dir, c.keys...)
		require.Equal(t, want[0], got["cycles"], "%v", c.args)
		require.Equal(t, want[1], got["exposed"], "%v", c.args)
		require.NotEmpty(t, got["cycles"], "%v", c.args)
		require.Len(t, got["sources"], len(want[1].([]any)))
		if !slices.Contains(c.args, "--piece") {
			require.Equal(t, want[2], got["unreleased"])
		}
	}
}

// TestLookbackByOtherKeys: ids and names of one thing give the same answer, and each key
// narrows.
func TestLookbackByOtherKeys(t *testing.T) {
	dir := invented(t, 60)
	file := "file:" + dir + "/ledger.db?immutable=1"
	ask := func(args ...string) map[string]any {
		return answer(t, append([]string{"lookback", "--data", dir, "--json"}, args...)...)
	}
	for key, table := range map[string]string{"product": "product", "model": "model",
		"procedure": "procedure"} {
		row := strings.Split(strings.TrimSpace(shell(t, file, "SELECT id, doc ->> 'name' FROM "+
			table+" WHERE id IN (SELECT doc ->> 'procedure' FROM cycle) OR id IN (SELECT doc ->> "+
			"'model' FROM piece) OR id IN (SELECT doc ->> 'product' FROM lot) LIMIT 1")), "|")
		byID, byName := ask("--"+key, row[0]), ask("--"+key, row[1])
		require.Equal(t, byID, byName)
		require.NotEmpty(t, byID["cycles"], key)
	}
	container := strings.TrimSpace(shell(t, file, "SELECT doc ->> 'id' FROM container WHERE doc "+
		"->> 'lot' IN (SELECT id FROM lot WHERE doc ->> 'kind' = 'disinfectant') ORDER BY id LIMIT 1"))
	require.NotEmpty(t, ask("--container", container)["cycles"])
	all := ask("--from", "2020-01-01 00:00")
	require.Empty(t, ask("--from", "2020-01-01 00:00", "--as-of", "2020-01-02 00:00")["cycles"])
	require.Greater(t, len(all["cycles"].([]any)), len(ask("--container", container)["cycles"].([]any)))
	require.LessOrEqual(t, all["wearers"].(float64), float64(len(all["exposed"].([]any))))
}

func TestLookbackInADataFolderRefuses(t *testing.T) {
	dir := invented(t, 3)
	for says, args := range map[string][]string{
		`knows no lot "L-none"`: {"--lot", "L-none"}, `knows no piece "D"`: {"--piece", "D"},
		`knows no product "x"`: {"--product", "x"}, `knows no person "x"`: {"--person", "x"},
		`knows no container "x"`: {"--container", "x"}, `knows no model "x"`: {"--model", "x"},
		`knows no procedure "x"`:         {"--procedure", "x"},
		`knows no instrument "x"`:        {"--instrument", "x"},
		"a look-back needs at least one": {"--as-of", "2026-11-01 00:00"},
	} {
		requireRefused(t, says, append([]string{"lookback", "--data", dir}, args...)...)
	}
}

// TestLookbackBesideAServer: it needs no lock.
func TestLookbackBesideAServer(t *testing.T) {
	store := openInvented(t, 3)
	got := answer(t, "lookback", "--data", store.Dir(), "--from", "2026-11-01 00:00", "--json")
	require.NotEmpty(t, got["cycles"])
}
