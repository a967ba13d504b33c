package reprocess

import (
	"errors"
	"fmt"
)

// Code says what kind of problem it is. The list is closed and only grows at its end; the
// edge turns each into a status by one table.
type Code string

// The codes of all problems.
const (
	Invalid     Code = "invalid"     // what was typed or scanned cannot be understood
	NotFound    Code = "not_found"   // no such thing here
	Refused     Code = "refused"     // understood, recorded, and not allowed by a rule
	Conflict    Code = "conflict"    // somebody else was first, or the form is old
	Forbidden   Code = "forbidden"   // this person may not do this
	Unavailable Code = "unavailable" // try again: the store cannot answer now
	Internal    Code = "internal"    // a fault of the program
)

// Codes lists every code once, in the order above.
func Codes() []Code {
	return []Code{Invalid, NotFound, Refused, Conflict, Forbidden, Unavailable, Internal}
}

// Problem is the only error a person reads: what is wrong, which rule says so (a stable
// text such as "contact_time"), and what to do. Err is for the log and never shown.
type Problem struct {
	Code Code
	Rule string
	Text string
	Fix  string
	Err  error
}

// Error joins the sentence and what to do.
func (p *Problem) Error() string {
	if p.Fix == "" {
		return p.Text
	}
	return p.Text + " " + p.Fix
}

// Unwrap gives the cause, for the log.
func (p *Problem) Unwrap() error { return p.Err }

// AsProblem finds the problem in an error; anything else becomes a bland internal one, so
// that no foreign text reaches a person.
func AsProblem(err error) *Problem {
	var p *Problem
	if err == nil {
		return nil
	}
	if errors.As(err, &p) {
		return p
	}
	return &Problem{Code: Internal, Rule: "fault", Err: err,
		Text: "Something went wrong here and nothing was saved.",
		Fix:  "Try once more; if it repeats, tell whoever looks after this server."}
}

// refuse, invalid, conflict and forbid build the common problems of rules.
func refuse(rule, fix, format string, args ...any) *Problem {
	return &Problem{Code: Refused, Rule: rule, Fix: fix, Text: fmt.Sprintf(format, args...)}
}

func invalid(rule, fix, format string, args ...any) *Problem {
	return &Problem{Code: Invalid, Rule: rule, Fix: fix, Text: fmt.Sprintf(format, args...)}
}

func conflict(rule, fix, format string, args ...any) *Problem {
	return &Problem{Code: Conflict, Rule: rule, Fix: fix, Text: fmt.Sprintf(format, args...)}
}

func missing(what string) *Problem {
	return &Problem{Code: NotFound, Rule: "unknown", Text: "There is no such " + what + " here.",
		Fix: "Check the number, or scan the label again."}
}
