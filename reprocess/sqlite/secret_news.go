package sqlite

import (
	"context"
	"database/sql"
	"errors"

	"handback/reprocess"
)

// mostNews bounds what one sign-in is told: the newest.
const mostNews = 10

// SecretNews lists the entries by which others ended or replaced somebody's secret and which no
// sign-in was told of yet, the oldest first: resets by a supervisor, and one-time codes used, for
// a code can be used by whoever holds it. With told they do not come again.
func (s *Store) SecretNews(ctx context.Context, person string, told bool) (
	[]*reprocess.Entry, error) {
	var last int64
	err := s.read.QueryRowContext(ctx, `SELECT seq FROM told WHERE person = ?`, person).Scan(&last)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, storeFault(err)
	}
	list, err := s.Entries(ctx, Filter{Result: reprocess.ResultDone, Ref: reprocess.Ref{
		Table: reprocess.TablePerson, ID: person}}, 0, 4*mostNews)
	if err != nil {
		return nil, err
	}
	var news []*reprocess.Entry
	for _, e := range list {
		if e.Seq > last && len(news) < mostNews && secretNews(e, person) {
			news = append([]*reprocess.Entry{e}, news...)
		}
	}
	if !told || len(news) == 0 {
		return news, nil
	}
	return news, storeFault(s.side(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT INTO told (person, seq) VALUES (?, ?)
			ON CONFLICT (person) DO UPDATE SET seq = max(seq, excluded.seq)`,
			person, news[len(news)-1].Seq)
		return err
	}))
}

// secretNews tells whether an entry is about the secret of a person and not by their old one.
func secretNews(e *reprocess.Entry, person string) bool {
	for _, b := range e.Events {
		if v, ok := b.Event.(reprocess.SecretSet); ok && v.Person == person {
			return v.Code || v.MAC == "" && e.By != person
		}
	}
	return false
}
