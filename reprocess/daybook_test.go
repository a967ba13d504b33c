package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The daily list, its notes and the hand-over are our own choice; the rules beside them are
// those of the command itself.

func TestTheDailyListIsTickedOnceAndCanBeTakenBack(t *testing.T) {
	c := newClinic(t)
	ada, today := c.actor("ada"), c.now.Today()
	tick := TickDay{Day: today, Tick: "Bench wiped"}
	c.do(ada, tick)
	kept := c.w.Daybooks[string(today)].Ticked("Bench wiped")
	require.Equal(t, "ada", kept.By)
	require.Equal(t, c.now.UTC, kept.At)
	p := c.refused("already_done", c.actor("dan"), tick)
	require.Contains(t, p.Text, "Ada Bench")
	c.refused("tick", ada, TickDay{Day: today, Tick: "Windows cleaned"})
	c.do(ada, TickDay{Day: today, Tick: "Bench wiped", Not: true})
	require.Nil(t, c.w.Daybooks[string(today)].Ticked("Bench wiped"))
	c.refused("not_ticked", ada, TickDay{Day: today, Tick: "Bench wiped", Not: true})
	c.do(ada, tick)
	require.Nil(t, (*Daybook)(nil).Ticked("Bench wiped"))
}

// A page of yesterday ticks nothing today, to the minute of midnight at the clinic.
func TestAPageOfAnotherDayTicksNothing(t *testing.T) {
	c := newClinic(t)
	ada, today := c.actor("ada"), c.now.Today()
	end := AtHour(today.AddDays(1), "00:00", nil)
	c.now.UTC = end - 1
	c.do(ada, NoteDay{Day: today, Note: "the lamp flickers"})
	c.now.UTC = end
	for _, cmd := range []Command{TickDay{Day: today, Tick: "Bench wiped"},
		NoteDay{Day: today, Note: "x"}, HandOver{Day: today, To: "dan"}} {
		c.refused("other_day", ada, cmd)
	}
	require.Len(t, c.w.Daybooks, 1)
}

func TestNotesAndHandOvers(t *testing.T) {
	c := newClinic(t)
	ada, today := c.actor("ada"), c.now.Today()
	c.refused("empty", ada, NoteDay{Day: today, Note: "  "})
	c.do(ada, NoteDay{Day: today, Note: strings.Repeat("x", 300)})
	c.refused("text", ada, NoteDay{Day: today, Note: strings.Repeat("x", 301)})
	c.refused("to_oneself", ada, HandOver{Day: today, To: "ada"})
	c.refused("person", ada, HandOver{Day: today, To: "nobody"})
	e := c.do(ada, HandOver{Day: today, To: "dan"})
	require.Equal(t, HandedOver{Day: today, From: "ada", To: "dan"}, e.Events[0].Event)
	c.w.People["dan"].Left = today // the last day is a day of work
	c.do(ada, HandOver{Day: today, To: "dan"})
	c.w.People["dan"].Left = today.AddDays(-1)
	c.refused("person_left", ada, HandOver{Day: today, To: "dan"})
	require.Len(t, c.w.Daybooks[string(today)].Given, 2)
	require.Len(t, c.w.Daybooks[string(today)].Notes, 1)
}

func TestCallsAboutALoanThatIsDue(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	dan := c.actor("dan")
	c.refused("not_out", dan, CallOverdue{Kit: "K18", Result: CallReached})
	c.do(dan, HandOut{Kit: "K18", Wearer: "w", Days: 1})
	loan := c.w.Kits["K18"].Loan
	call := CallOverdue{Kit: "K18", Loan: loan, Result: CallReached}
	c.refused("not_due", dan, call)
	c.wait(24 * time.Hour) // due today: to be called from now on
	c.do(dan, call)
	c.refused("not_out", dan, CallOverdue{Kit: "K18", Loan: "L0", Result: CallReached})
	c.refused("result", dan, CallOverdue{Kit: "K18", Loan: loan})
	c.refused("text", dan, CallOverdue{Kit: "K18", Loan: loan, Result: CallReached,
		Note: strings.Repeat("x", 201)})
	today := c.now.Today()
	for day, rule := range map[Date]string{"": "date", today.AddDays(-1): "date",
		today.AddDays(61): "date", "1.12.2026": "date", today: "", today.AddDays(60): ""} {
		cmd := CallOverdue{Kit: "K18", Loan: loan, Result: CallWillBring, On: day}
		if rule == "" {
			c.do(dan, cmd)
			continue
		}
		c.refused(rule, dan, cmd)
	}
	c.refused("date", dan, CallOverdue{Kit: "K18", Loan: loan, Result: CallNotReached, On: today})
	require.Len(t, c.w.Loans[loan].Calls, 3)
	require.Equal(t, CallReached, c.w.Loans[loan].Calls[0].Result)
	require.Equal(t, today, c.w.Loans[loan].Due, "a promise moves no due day")
	c.do(dan, TakeBack{Kit: "K18"})
	c.refused("not_out", dan, call)
}

func TestTheRoutineOfTheDay(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	require.Equal(t, "14:00", c.w.Settings.ShortFrom())
	require.Equal(t, "18:00", c.w.Settings.KeepUntil())
	require.Len(t, c.w.Settings.Ticks(), 3)
	c.refused("role", c.actor("ada"), SetRoutine{})
	for _, hour := range []string{"14", "24:00", "9:00", "14:60", "2 pm"} {
		c.refused("hour", boss, SetRoutine{Routine{ShortFrom: hour}})
		c.refused("hour", boss, SetRoutine{Routine{KeepUntil: hour}})
	}
	c.refused("tick_twice", boss, SetRoutine{Routine{Ticks: []string{"A", " A "}}})
	c.refused("text", boss, SetRoutine{Routine{Ticks: []string{strings.Repeat("x", 61)}}})
	many := strings.Split("a b c d e f g h i j k l", " ")
	c.refused("ticks", boss, SetRoutine{Routine{Ticks: append(many, "m")}})
	c.do(boss, SetRoutine{Routine{Ticks: append(many, " ", ""), ShortFrom: "00:00",
		KeepUntil: "23:59"}})
	require.Equal(t, many, c.w.Settings.Ticks())
	require.Equal(t, "00:00", c.w.Settings.ShortFrom())
	require.Equal(t, "23:59", c.w.Settings.KeepUntil())
	c.do(boss, SetSettings{Settings{Zone: "UTC", Clinic: "North"}})
	require.Equal(t, many, c.w.Settings.Ticks(), "the other settings leave it alone")
}
