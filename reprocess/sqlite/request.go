package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"handback/reprocess"
)

// Request is one command with who asks, when, and the key that makes it count once.
type Request struct {
	Cmd     reprocess.Command
	Actor   reprocess.Actor
	Key     string            // made on the phone: 1 to 64 of A-Z a-z 0-9 _ -; empty: none
	PhoneAt reprocess.Instant // by the phone's clock, hearsay; 0: not told
	Now     *reprocess.Now    // nil: the store's clock

	// also runs in the same transaction after a done entry, for tables beside the ledger that
	// must not be without it. An error undoes the entry.
	also func(tx *sql.Tx, e *reprocess.Entry) error
}

// Answer is what became of one request of DoMany. Exactly one of Seq and Problem can be empty:
// a refusal has both its entry's number and the problem; what could not be understood has no
// entry.
type Answer struct {
	Seq     int64
	Problem *reprocess.Problem
}

// ask is a request on its way through the writer.
type ask struct {
	Request
	now     *reprocess.Now     // frozen when it is first decided, so that a replay agrees
	body    []byte             // of the entry that answers it
	seq     int64              // of that entry
	done    bool               // the entry's result is done
	repeat  bool               // answered from an entry that was there before
	problem *reprocess.Problem // without an entry
	behind  *ask               // only decided when that one's entry is done; nil: always
}

// Do decides one command and answers after its entry is on the disk. A refusal is an entry
// too: then both the entry and its *reprocess.Problem are given. A repeated key is answered
// from the entry it led to. What cannot be understood, and every fault, gives only a problem.
func (s *Store) Do(ctx context.Context, r Request) (*reprocess.Entry, error) {
	a := &ask{Request: r}
	if err := s.submit(ctx, &job{asks: []*ask{a}, answer: make(chan error, 1)}); err != nil {
		return nil, err
	}
	if a.body == nil {
		return nil, a.problem
	}
	e, err := readEntry(a.body)
	if err != nil {
		return nil, reprocess.AsProblem(err)
	}
	if p := e.Refusal.Problem(); p != nil {
		return e, p
	}
	return e, nil
}

// DoBoth decides two commands that stand together, such as the halves of a swap: both entries
// or none are in one transaction, whatever fails. The commands see to it that the second is
// refused when the first was. The first problem of the two is given.
func (s *Store) DoBoth(ctx context.Context, first, second Request) (*reprocess.Entry, error) {
	asks := []*ask{{Request: first}, {Request: second}}
	if err := s.submit(ctx, &job{asks: asks, whole: true, answer: make(chan error, 1)}); err != nil {
		return nil, err
	}
	for _, a := range asks {
		if p := a.summary().Problem; p != nil {
			return nil, p
		}
	}
	return readEntry(asks[0].body)
}

// DoAll decides a command and, once its entry is done, those that follow from it: all their
// entries are in one transaction, whatever fails, and theirs follow its own without a gap. Each
// has its own answer; when the first is refused the others have none and nothing is kept of
// them.
func (s *Store) DoAll(ctx context.Context, first Request, rest []Request) (*reprocess.Entry,
	[]Answer, error) {
	head := &ask{Request: first}
	asks := []*ask{head}
	for _, r := range rest {
		asks = append(asks, &ask{Request: r, behind: head})
	}
	err := s.submit(ctx, &job{asks: asks, whole: true, answer: make(chan error, 1)})
	if err != nil {
		return nil, nil, err
	}
	if p := head.summary().Problem; p != nil {
		return nil, nil, p
	}
	e, err := readEntry(head.body)
	if err != nil {
		return nil, nil, reprocess.AsProblem(err)
	}
	var answers []Answer
	for _, a := range asks[1:] {
		answers = append(answers, a.summary())
	}
	return e, answers, nil
}

// DoMany decides commands in order, as for a history that is taken over, and commits them in
// portions of 500: an error means that the portions before it stand. About 170 microseconds
// per command.
func (s *Store) DoMany(ctx context.Context, rs []Request) ([]Answer, error) {
	answers := make([]Answer, 0, len(rs))
	for len(rs) > 0 {
		n := min(len(rs), maxBatch)
		asks := make([]*ask, n)
		for i := range asks {
			asks[i] = &ask{Request: rs[i]}
		}
		rs = rs[n:]
		if err := s.submit(ctx, &job{asks: asks, answer: make(chan error, 1)}); err != nil {
			return answers, err
		}
		for _, a := range asks {
			answers = append(answers, a.summary())
		}
	}
	return answers, nil
}

func (a *ask) summary() Answer {
	if a.body == nil || a.done {
		return Answer{Seq: a.seq, Problem: a.problem}
	}
	e, err := readEntry(a.body)
	if err != nil {
		return Answer{Seq: a.seq, Problem: reprocess.AsProblem(err)}
	}
	return Answer{Seq: a.seq, Problem: e.Refusal.Problem()}
}

// readEntry decodes the bytes of an entry.
func readEntry(body []byte) (*reprocess.Entry, error) {
	e := new(reprocess.Entry)
	if err := json.Unmarshal(body, e); err != nil {
		return nil, fmt.Errorf("an entry cannot be read: %w", err)
	}
	return e, nil
}

// checkKey holds an idempotency key to its form.
func checkKey(key string) *reprocess.Problem {
	bad := len(key) > 64
	for _, c := range []byte(key) {
		letter := 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z'
		bad = bad || !letter && (c < '0' || c > '9') && c != '_' && c != '-'
	}
	if !bad {
		return nil
	}
	return &reprocess.Problem{Code: reprocess.Invalid, Rule: "key",
		Text: "The form carries a key that this server did not make.",
		Fix:  "Open the page again and repeat what you did."}
}
