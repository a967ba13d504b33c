package recording

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Files that are something else are named, and the sentence says what to export (first bytes
// of the published formats).
func TestForeignFiles(t *testing.T) {
	pad := func(s string, n int) string { return s + strings.Repeat("\x00", n) }
	for data, says := range map[string]string{
		"<!DOCTYPE html><html>":                  "web page",
		"\r\n <HTML>":                            "web page",
		"<?xml version=\"1.0\"?><AnnotatedECG/>": "XML",
		"PK\x03\x04":                             "zip archive",
		"\x1f\x8b\x08":                           "packed archive",
		"%PDF-1.7":                               "PDF",
		"ISHNE1.0":                               "ISHNE",
		"GDF 2.20":                               "GDF",
		pad("", 128) + "DICM" + pad("", 10):      "DICOM",
		pad("", 16) + "SCPECG" + pad("", 10):     "SCP-ECG",
		"\x89PNG\r\n":                            "picture",
		"\x00\x01\x02":                           "none of the formats",
	} {
		_, err := Read("x", []byte(data), Options{})
		require.ErrorContains(t, err, says, "%q", data)
	}
}

// The name decides only where the bytes cannot.
func TestNamesDecideLittle(t *testing.T) {
	_, err := Read("x.edf", []byte("hello"), Options{})
	require.ErrorContains(t, err, "not an EDF or BDF file")
	_, err = Read("x.dat", []byte("hello"), Options{})
	require.ErrorContains(t, err, "give the .hea file")
	r, err := Read(`C:\bench\x.csv`, load(t, "edf/good_c.edf"), Options{})
	require.NoError(t, err)
	require.Equal(t, EDFPlusC, r.Format)
}

// Nothing, and more than the limit, are refused before anything is looked at.
func TestSizeLimits(t *testing.T) {
	_, err := Read("x.edf", nil, Options{})
	require.ErrorContains(t, err, "the file is empty")
	big := make([]byte, MaxBytes+1)
	got := allocated(func() { _, err = Read("x.edf", big, Options{}) })
	require.ErrorContains(t, err, "longer than 64 MiB")
	require.Less(t, got, uint64(1<<16))
}

// Every refusal says what to do.
func TestRefusalsSayWhatToDo(t *testing.T) {
	for _, name := range []string{"ns_huge.edf", "ns_negative.edf", "spr_negative.edf",
		"empty_records.edf", "html.edf"} {
		_, err := Read(name, load(t, "edf/"+name), Options{})
		require.ErrorContains(t, err, "export", name)
		require.NotContains(t, err.Error(), "\n")
	}
}

// Texts of headers and marks are cleaned before they are shown: no control characters, no
// marks that turn the writing direction.
func TestCleanText(t *testing.T) {
	for in, want := range map[string]string{"a\x00b": "a", " a ": "a", "\xb5V": "µV", "µV": "µV",
		"a\x1b[31mb": "a[31mb", "a\u202eb": "ab", "a\tb": "a b", "\x1b\xe4": "ä"} {
		require.Equal(t, want, cleanText([]byte(in)), "%q", in)
	}
}

func TestHide(t *testing.T) {
	require.Equal(t, "[name] and [name]", hide("VELA and vela", []string{"Vela"}))
	require.Equal(t, "none", hide("none", []string{"Vela"}))
	require.Equal(t, "[name]", hide("name", []string{"name"}), "ends")
}

func TestNameParts(t *testing.T) {
	for s, want := range map[string][]string{"X X X X": nil, "Vela_Ona": {"Vela", "Ona"},
		"24-NOV-2026": nil, "MCH-0234567 F": nil,
		"test 12": nil, "O'Hara-Lind": {"O'Hara-Lind"}, "?": nil} {
		require.Equal(t, want, nameParts(s), s)
	}
	for s, want := range map[string][]string{"# Name: Ona Vela": {"Ona", "Vela"},
		"# <name>: Ona": {"Ona"}, "Patient;Ona": {"Ona"}, "patient name = X": nil,
		"name": nil, "named thing": nil, "# patients were many": nil} {
		require.Equal(t, want, namedPerson(s), s)
	}
}
