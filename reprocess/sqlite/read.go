package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"handback/reprocess"
)

// Get reads one entity of a read table; T is the type of the table's rows (string for
// in_force and secret_mac). A row that is not there is a not_found problem.
func Get[T any](ctx context.Context, s *Store, table reprocess.Table, id string) (*T, error) {
	t := tableOf(table)
	if t == nil {
		return nil, fmt.Errorf("there is no read table %q", table)
	}
	return one[T](ctx, s.read, "SELECT doc FROM "+string(t.name)+" WHERE id = ?", id)
}

// one reads the doc that a query answers.
func one[T any](ctx context.Context, q querier, query string, args ...any) (*T, error) {
	var doc []byte
	err := q.QueryRowContext(ctx, query, args...).Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, notHere()
	}
	if err != nil {
		return nil, storeFault(err)
	}
	v := new(T)
	if err := json.Unmarshal(doc, v); err != nil {
		return nil, reprocess.AsProblem(err)
	}
	return v, nil
}

// all reads the docs that a query answers, in its order.
func all[T any](ctx context.Context, q querier, query string, args ...any) ([]*T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	var list []*T
	for rows.Next() {
		var doc sql.RawBytes
		v := new(T)
		if err := rows.Scan(&doc); err != nil {
			return nil, storeFault(err)
		}
		if err := json.Unmarshal(doc, v); err != nil {
			return nil, reprocess.AsProblem(err)
		}
		list = append(list, v)
	}
	return list, storeFault(rows.Err())
}

func notHere() error {
	return &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
		Text: "There is no such thing here.", Fix: "Check the number, or scan the label again."}
}
