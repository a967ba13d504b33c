package reprocess

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const importHeader = "number,place,recorder_model,recorder_serial,recorder_udi,recorder_cycles," +
	"phone_model,phone_serial,phone_udi,phone_cycles,state,out_since,due,days,wearer,ready_until\n"

var importNow = Now{UTC: dayOne} // 24 Nov 2026

func importWorld() *World {
	w := NewWorld()
	w.Settings.Site = "s1"
	for _, m := range []Model{{ID: "M1", Name: "Recorder A", Kind: Recorder},
		{ID: "M2", Name: "Phone P", Kind: Phone},
		{ID: "M3", Name: "Old one", Kind: Recorder, Retired: true}} {
		w.Models[m.ID] = &m
	}
	w.Kits["K1"] = &Kit{ID: "K1", Number: "1", Pieces: []string{"P1"}}
	w.Pieces["P1"] = &Piece{ID: "P1", Kind: Recorder, Model: "M1", Serial: "R1", State: Registered}
	return w
}

func parseKits(t *testing.T, text string) ([]RegisterKit, []RowFault) {
	t.Helper()
	w := importWorld()
	kits, faults := ParseKitsCSV(strings.NewReader(text), w, importNow)
	require.Len(t, w.Kits, 1, "the world is not changed")
	require.Len(t, w.Pieces, 1)
	if len(faults) > 0 {
		require.Nil(t, kits, "all or nothing")
	}
	for _, f := range faults {
		require.NotZero(t, f.Row)
		require.NotEmpty(t, f.Text)
		require.NotEmpty(t, f.Fix)
	}
	return kits, faults
}

func TestKitsFromAFile(t *testing.T) {
	text := importHeader +
		"(pool number),(where),,,,,,,,,,,,,,\n" +
		`17,"shelf A, left",recorder a,R17,(01)09506000134352(21)R17,>=40,Phone P,F17,,unknown,out,` +
		"2026-11-10,2026-12-01,14,W-1042,\n" +
		"\n" +
		"18,,Recorder A,R18,,,,,,,ready,,,,,2026-11-24\n" +
		"19,,Recorder A,R19,,3,,,,,,,,,,\n"
	kits, faults := parseKits(t, text)
	require.Empty(t, faults)
	require.Equal(t, []RegisterKit{
		{Number: "17", Place: "shelf A, left",
			Recorder: NewPiece{Model: "M1", Serial: "R17", UDI: "(01)09506000134352(21)R17",
				Cycles: 40, Least: true},
			Phone:   &NewPiece{Model: "M2", Serial: "F17", Least: true},
			Opening: &Opening{Out: "2026-11-10", Due: "2026-12-01", Days: 14, Wearer: "W-1042"}},
		{Number: "18", Recorder: NewPiece{Model: "M1", Serial: "R18"},
			Opening: &Opening{Ready: "2026-11-24"}},
		{Number: "19", Recorder: NewPiece{Model: "M1", Serial: "R19", Cycles: 3}, Opening: &Opening{}},
	}, kits)
}

// The same content in the spellings that spreadsheets write. Source: RFC 4180 (CRLF, doubled
// quotation marks, line breaks inside cells); byte order mark and semicolons: common practice.
func TestSpellingsOfAFile(t *testing.T) {
	rows := "number,recorder_model,recorder_serial,place\r\n5,Recorder A,R5,\"by the \"\"window\"\"\"\r\n"
	want, faults := parseKits(t, rows)
	require.Empty(t, faults)
	require.Equal(t, `by the "window"`, want[0].Place)
	for name, text := range map[string]string{
		"byte order mark": "\xEF\xBB\xBF" + rows,
		"bare newlines":   strings.ReplaceAll(rows, "\r\n", "\n"),
		"semicolons":      strings.ReplaceAll(rows, ",", ";"),
		"tabs":            strings.ReplaceAll(rows, ",", "\t"),
		"no last newline": strings.TrimSuffix(rows, "\r\n"),
		"break in a cell": strings.Replace(rows, "by the ", "by\r\nthe ", 1),
		"other case":      strings.Replace(rows, "number", " Number", 1),
	} {
		got, faults := parseKits(t, text)
		require.Empty(t, faults, name)
		require.Len(t, got, 1, name)
		if name != "break in a cell" {
			require.Equal(t, want, got, name)
		}
	}
}

// Each fault is laid to its line and column.
func TestFaultsOfAFile(t *testing.T) {
	for text, want := range map[string]struct {
		row          int
		column, says string
	}{
		"": {1, "", "empty"},
		"number,recorder_model,recorder_serial\n":                          {1, "", "no kit"},
		"number,recorder_model\n":                                          {1, "recorder_serial", "missing"},
		"number,colour,recorder_model,recorder_serial\n":                   {1, "colour", "no column"},
		"number,number,recorder_model,recorder_serial\n":                   {1, "number", "twice"},
		"number,recorder_model,recorder_serial\n5,\"Recorder A,R5\n":       {2, "", "quotation"},
		"number,recorder_model,recorder_serial\n5,Recorder A,R5,x\n":       {2, "", "4 cells"},
		"number,recorder_model,recorder_serial\n5,Recorder A,R\xff\n":      {2, "", "UTF-8"},
		"number,recorder_model,recorder_serial\n123456,Recorder A,R5\n":    {2, "number", "pool number"},
		"number,recorder_model,recorder_serial\n1,Recorder A,R5\n":         {2, "number", "a kit 1 already"},
		"number,recorder_model,recorder_serial\n5,Recorder B,R5\n":         {2, "recorder_model", "no model"},
		"number,recorder_model,recorder_serial\n5,Old one,R5\n":            {2, "recorder_model", "no model"},
		"number,recorder_model,recorder_serial\n5,Phone P,R5\n":            {2, "recorder_model", "is no recorder"},
		"number,recorder_model,recorder_serial\n5,Recorder A,R 5\n":        {2, "recorder_serial", "cannot be"},
		"number,recorder_model,recorder_serial\n5,Recorder A,R1\n":         {2, "recorder_serial", "already"},
		importHeader + "5,,Recorder A,R5,,4x,,,,,,,,,,\n":                  {2, "recorder_cycles", "whole number"},
		importHeader + "5,,Recorder A,R5,,,Phone P,,,,,,,,,\n":             {2, "phone_serial", "cannot be"},
		importHeader + "5,,Recorder A,R5,,,,F5,,,,,,,,\n":                  {2, "phone_model", "no model"},
		importHeader + "5,,Recorder A,R5,,,,,,,lost,,,,,\n":                {2, "state", "no state"},
		importHeader + "5,,Recorder A,R5,,,,,,,out,,,,,\n":                 {2, "out_since", "empty"},
		importHeader + "5,,Recorder A,R5,,,,,,,ready,,,,,\n":               {2, "ready_until", "empty"},
		importHeader + "5,,Recorder A,R5,,,,,,,,2026-11-01,,,,\n":          {2, "state", "neither"},
		importHeader + "5,,Recorder A,R5,,,,,,,out,1.11.2026,,,,\n":        {2, "out_since", "not a day"},
		importHeader + "5,,Recorder A,R5,,,,,,,out,2026-11-25,,,,\n":       {2, "out_since", "to come"},
		importHeader + "5,,Recorder A,R5,,,,,,,ready,,,,,2026-11-23\n":     {2, "ready_until", "cannot be"},
		importHeader + "5,,Recorder A,R5,(01)09506000134353,,,,,,,,,,,\n":  {2, "recorder_udi", "check digit"},
		importHeader + "5," + strings.Repeat("x", 41) + ",Recorder A,R5\n": {2, "place", "41 characters"},
	} {
		_, faults := parseKits(t, text)
		require.NotEmpty(t, faults, text)
		require.Equal(t, want.row, faults[0].Row, text)
		require.Equal(t, want.column, faults[0].Column, text)
		require.Contains(t, faults[0].Text, want.says, text)
	}
}

func TestDoublesInsideAFile(t *testing.T) {
	_, faults := parseKits(t, "number,recorder_model,recorder_serial\n5,Recorder A,R5\n"+
		"6,Recorder A,R6\n5,Recorder A,R6\n")
	require.Equal(t, []RowFault{
		{4, "number", "Line 2 has the number 5 too.", "Give each kit its own number."},
		{4, "recorder_serial", "Line 3 has the serial R6 too.", "Check the plates."}}, faults)
}

func TestMostRowsOfAFile(t *testing.T) {
	file := func(n int) string {
		var b strings.Builder
		b.WriteString("number,recorder_model,recorder_serial\n(pool number),,\n")
		for i := range n {
			fmt.Fprintf(&b, "B%d,Recorder A,B%d\n", i, i)
		}
		return b.String()
	}
	kits, faults := parseKits(t, file(MostImportRows))
	require.Empty(t, faults)
	require.Len(t, kits, MostImportRows)
	_, faults = parseKits(t, file(MostImportRows+1))
	require.Len(t, faults, 1)
	require.Contains(t, faults[0].Text, "more than 2000")
}

// The template is read back by a CSV reader, and is itself a file without kits, not a faulty one.
func TestTheTemplateIsReadBack(t *testing.T) {
	rows, err := csv.NewReader(bytes.NewReader(ImportTemplate())).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 2)
	for i, c := range ImportColumns() {
		require.Equal(t, c.Name, rows[0][i])
		require.Equal(t, c.Unit, rows[1][i])
	}
	_, faults := parseKits(t, string(ImportTemplate()))
	require.Len(t, faults, 1)
	require.Contains(t, faults[0].Text, "no kit")
	var examples []string
	for _, c := range ImportColumns() {
		examples = append(examples, c.Example)
	}
	kits, faults := parseKits(t, string(ImportTemplate())+strings.Join(examples, ",")+"\r\n")
	require.Empty(t, faults, "the example of each column makes a good row")
	require.Len(t, kits, 1)
}

func FuzzParseKitsCSV(f *testing.F) {
	f.Add(importHeader + "5,,Recorder A,R5,,,,,,,,,,,,\n")
	f.Add("number;recorder_model;recorder_serial\n5;Recorder A;R5")
	f.Fuzz(func(t *testing.T, text string) {
		kits, faults := ParseKitsCSV(strings.NewReader(text), importWorld(), importNow)
		require.True(t, (len(kits) > 0) != (len(faults) > 0), "kits or faults, never both or none")
	})
}
