package sqlite

import "handback/reprocess"

// documentRefs lists the rows of events about documents.
func documentRefs(event reprocess.Event) ([]reprocess.Ref, bool) {
	switch v := event.(type) {
	case reprocess.DocumentAdded:
		return append(refTo(reprocess.TableDocument, v.ID), subjectRefs(v.About...)...), true
	case reprocess.DocumentRenewed:
		return refTo(reprocess.TableDocument, v.Document), true
	case reprocess.DocumentAttached:
		return append(refTo(reprocess.TableDocument, v.Document), subjectRefs(v.About)...), true
	case reprocess.DocumentWithdrawn:
		return refTo(reprocess.TableDocument, v.Document), true
	}
	return nil, false
}

// subjectTables are the tables of what a document is about.
var subjectTables = map[reprocess.SubjectKind]reprocess.Table{
	reprocess.OnModel: reprocess.TableModel, reprocess.OnProduct: reprocess.TableProduct,
	reprocess.OnPerson: reprocess.TablePerson, reprocess.OnCheck: reprocess.TablePiece}

func subjectRefs(about ...reprocess.Subject) []reprocess.Ref {
	var refs []reprocess.Ref
	for _, s := range about {
		if t, ok := subjectTables[s.Kind]; ok {
			refs = append(refs, refTo(t, s.ID)...)
		}
	}
	return refs
}
