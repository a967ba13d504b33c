package lookback

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestParseTime(t *testing.T) {
	want := time.Date(2027, 5, 10, 8, 0, 0, 0, time.UTC)
	for _, s := range []string{"2027-05-10 08:00", "2027-05-10 08:00:00", "2027-05-10T08:00:00Z",
		"2027-05-10T10:00:00+02:00"} {
		got, err := ParseTime(s)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	for _, s := range []string{"", "2027-05-10", "10.05.2027 08:00", "2027-05-10 8am",
		"2027-13-10 08:00", "2027-02-30 08:00", "0027-05-10 08:00", "2027-05-10T08:00:00", "now"} {
		_, err := ParseTime(s)
		require.ErrorContains(t, err, "write it like 2027-05-10 08:00", "%q", s)
	}
}

const cycleHeader = "cycle,device,attempts,released\n"

func TestReadCycles(t *testing.T) {
	got, err := ReadCycles(strings.NewReader("\ufeff" + cycleHeader +
		"C1,D1,2027-05-10 08:00:00 L7 seen-dry|2027-05-10T08:10:00Z L8 ok,\n" +
		"\"C2, again\",D2,,2027-05-10 09:00\r\n"))
	require.NoError(t, err)
	eight := time.Date(2027, 5, 10, 8, 0, 0, 0, time.UTC)
	require.Equal(t, []Cycle{
		{ID: "C1", Device: "D1", Attempts: []Attempt{
			{At: eight, Uses: []Use{{Lot: "L7"}}},
			{At: eight.Add(10 * time.Minute), Uses: []Use{{Lot: "L8"}}, OK: true}}},
		{ID: "C2, again", Device: "D2", Released: eight.Add(time.Hour)},
	}, got)
}

func TestReadCyclesRefuses(t *testing.T) {
	for row, says := range map[string]string{
		"":                                                              "first line",
		"cycle,device\n":                                                "first line",
		"device,cycle,attempts,released\n":                              "first line",
		cycleHeader + "C1,D1,x\n":                                       "not CSV",
		cycleHeader + "C1,\"D1,,\n":                                     "not CSV",
		cycleHeader + ",D1,,\n":                                         "line 2: a cycle needs",
		cycleHeader + "C1,,,\n":                                         "line 2: a cycle needs",
		cycleHeader + "C1,D1,,\nC1,D1,,\n":                              "line 3: the cycle",
		cycleHeader + "C1,D1,,yesterday\n":                              "is not a time",
		cycleHeader + "C1,D1,| ,\n":                                     "not an attempt",
		cycleHeader + "C1,D1,L7 ok,\n":                                  "not an attempt",
		cycleHeader + "C1,D1,2027-05-10 08:00:00 ok,\n":                 "not an attempt",
		cycleHeader + "C1,D1,2027-05-10 08:00:00 L7,\n":                 "not an attempt",
		cycleHeader + "C1,D1,2027-05-10 08:00:00 L7 OK,\n":              "not an attempt",
		cycleHeader + "C1,D1,2027-05-10 08:00:00 L7 dry,\n":             "not an attempt",
		cycleHeader + "C1,D1,2027-05-10 08:00:00 L7 ok;,\n":             "not an attempt",
		cycleHeader + "C1,D1,2027-05-10 08:00 L7 ok,2027-05-10 07:59\n": "before its last attempt",
	} {
		_, err := ReadCycles(strings.NewReader(row))
		require.ErrorContains(t, err, says, "%q", row)
	}
}

const loanHeader = "episode,device,wearer,issued,returned\n"

func TestReadLoans(t *testing.T) {
	got, err := ReadLoans(strings.NewReader(loanHeader + "W1,D1,,,\n" +
		"W2,D1,R2,2027-05-10 08:00,2027-05-10 08:00\n"))
	require.NoError(t, err)
	eight := time.Date(2027, 5, 10, 8, 0, 0, 0, time.UTC)
	require.Equal(t, []Loan{{Episode: "W1", Device: "D1"},
		{Episode: "W2", Device: "D1", Wearer: "R2", Issued: eight, Returned: eight}}, got)
	for row, says := range map[string]string{
		",D1,R,,\n": "a loan needs", "W1,,R,,\n": "a loan needs",
		"W1,D1,R,x,\n": "is not a time", "W1,D1,R,,x\n": "is not a time",
		"W1,D1,,,\nW1,D2,,,\n":                        "line 3: the episode \"W1\" stands there twice",
		"W1,D1,R,2027-05-10 08:00,2027-05-10 07:59\n": "came back before",
	} {
		_, err := ReadLoans(strings.NewReader(loanHeader + row))
		require.ErrorContains(t, err, says, "%q", row)
	}
}

func FuzzReadCycles(f *testing.F) {
	f.Add(cycleHeader + "C1,D1,2027-05-10 08:00:00 L7 seen-dry|2027-05-10 08:10 L8 ok,\n")
	f.Add(cycleHeader + "\"")
	f.Fuzz(func(t *testing.T, s string) {
		cycles, err := ReadCycles(strings.NewReader(s))
		if err != nil {
			return
		}
		for _, c := range cycles {
			if c.ID == "" || c.Device == "" {
				t.Fatalf("%q was read as %+v", s, c)
			}
		}
		if _, err := Run(Query{Lot: "L7"}, cycles, nil); err != nil {
			t.Fatal(err)
		}
	})
}
