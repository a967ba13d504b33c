package reprocess

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// csvRow is one record with the line it begins on.
type csvRow struct {
	line  int
	cells []string
}

// readCSV reads all records, or says where the file is no CSV.
func readCSV(r io.Reader) ([]csvRow, []RowFault) {
	in := bufio.NewReader(r)
	if start, _ := in.Peek(3); bytes.Equal(start, []byte("\xEF\xBB\xBF")) {
		_, _ = in.Discard(3) // just peeked
	}
	head, _ := in.Peek(2048) // shorter at the end of the file
	c := csv.NewReader(in)
	c.Comma, c.FieldsPerRecord = delimiter(head), -1
	var rows []csvRow
	for {
		cells, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, []RowFault{csvFault(err)}
		}
		line, _ := c.FieldPos(0)
		for _, cell := range cells {
			if !utf8.ValidString(cell) {
				return nil, []RowFault{{Row: line, Text: "The file is not in UTF-8.",
					Fix: "Save it as CSV UTF-8 and send it again."}}
			}
		}
		rows = append(rows, csvRow{line, cells})
		if len(rows) > MostImportRows+2 {
			return nil, []RowFault{{Row: line, Text: fmt.Sprintf("The file has more than %d kits.",
				MostImportRows), Fix: "Split it into several files."}}
		}
	}
	if len(rows) == 0 {
		return nil, []RowFault{{Row: 1, Text: "The file is empty.", Fix: "Begin with the template."}}
	}
	return rows, nil
}

// delimiter is what the header line has most of, the comma when it has none.
func delimiter(head []byte) rune {
	line, _, _ := bytes.Cut(head, []byte("\n"))
	best, most := ',', bytes.Count(line, []byte(","))
	for _, d := range ";\t" {
		if n := bytes.Count(line, []byte(string(d))); n > most {
			best, most = d, n
		}
	}
	return best
}

func csvFault(err error) RowFault {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return RowFault{Row: p.StartLine, Text: "A quotation mark in this line is not closed or " +
			"stands in the middle of a cell.", Fix: "Write it twice inside quoted cells."}
	}
	return RowFault{Row: 1, Text: "The file cannot be read.", Fix: "Send it again."}
}

func units(cells []string) bool {
	return len(cells) > 0 && strings.HasPrefix(strings.TrimSpace(cells[0]), "(")
}

func empty(cells []string) bool { return strings.TrimSpace(strings.Join(cells, "")) == "" }
