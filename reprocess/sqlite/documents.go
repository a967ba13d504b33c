package sqlite

import (
	"context"

	"handback/reprocess"
)

// documentsSmall is the condition of the documents that every world holds: those about models
// and disinfectants, some tens of rows. A step, a cycle and the data sheet of a product hang
// on them. Others are read when they are asked for.
const documentsSmall = "set_up = 1"

// documentTable is the row of the table of documents.
func documentTable() table {
	type document = reprocess.Document
	return entities(reprocess.TableDocument,
		func(w *reprocess.World) map[string]*document { return w.Documents },
		column[document]{"kind", func(d *document) any { return d.Kind }},
		column[document]{"set_up", func(d *document) any {
			return d.OnA(reprocess.OnModel) || d.OnA(reprocess.OnProduct)
		}},
		column[document]{"until", func(d *document) any {
			if d.Withdrawn != nil {
				return ""
			}
			return d.Newest().Until
		}})
}

// KeepDocument keeps the bytes of a PDF under their hash, so that a document may name them.
// Anything else is refused with a *reprocess.Problem, before a byte is written.
func (s *Store) KeepDocument(content []byte) (reprocess.DocumentFile, error) {
	if p := reprocess.CheckPDF(content); p != nil {
		return reprocess.DocumentFile{}, p
	}
	sha, err := s.KeepFile(content)
	return reprocess.DocumentFile{SHA256: sha, Bytes: int64(len(content))}, err
}

// Documents is the world with every document, withdrawn ones too, and the small tables. It
// reads each document once, about 10 µs each.
func (s *Store) Documents(ctx context.Context) (*reprocess.World, error) {
	return s.DocumentsBy(ctx)
}

// DocumentsBy is Documents with some rows and what belongs to them.
func (s *Store) DocumentsBy(ctx context.Context, refs ...reprocess.Ref) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		if err := l.ensure(ctx, refs...); err != nil {
			return err
		}
		return l.where(ctx, reprocess.TableDocument, "set_up = 0", nil)
	})
}

// kept finds the documents that have a version with any of these hashes. Only a clinic's own
// documents are looked through, some hundreds of rows.
func (l *loader) kept(ctx context.Context, hashes []string) ([]reprocess.Ref, error) {
	var refs []reprocess.Ref
	for _, h := range hashes {
		ids, err := l.find(ctx, "SELECT id FROM document WHERE instr(doc, ?) > 0", h)
		if err != nil {
			return nil, err
		}
		refs = append(refs, refTo(reprocess.TableDocument, ids...)...)
	}
	return refs, nil
}
