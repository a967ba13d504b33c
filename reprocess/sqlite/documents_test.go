package sqlite

import (
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// paper keeps a PDF and adds it as a document about a subject.
func (b *bench) paper(kind reprocess.DocumentKind, content string, about reprocess.Subject,
	until reprocess.Date) (id string, f reprocess.DocumentFile) {
	b.Helper()
	f, err := b.KeepDocument([]byte("%PDF-1.4\n" + content))
	require.NoError(b, err)
	f.Edition, f.Dated, f.Until = "1", "2026-11-02", until
	e := b.must(b.boss, reprocess.AddDocument{Kind: kind, Title: content,
		About: []reprocess.Subject{about}, DocumentFile: f})
	return e.Events[0].Event.(reprocess.DocumentAdded).ID, f
}

func (b *bench) refusedBy(rule string, cmd reprocess.Command) {
	b.Helper()
	_, err := b.Do(context.Background(), Request{Actor: b.boss, Cmd: cmd})
	require.Error(b, err)
	require.Equal(b, rule, reprocess.AsProblem(err).Rule)
}

// Only a PDF is kept, and nothing of what is refused reaches the folder.
func TestOnlyPDFsAreKeptAsDocuments(t *testing.T) {
	b := newBench(t)
	for rule, content := range map[string][]byte{"document": nil, "not_pdf": []byte("GIF89a"),
		"document_size": append([]byte("%PDF-"), make([]byte, reprocess.MostDocumentBytes)...)} {
		_, err := b.KeepDocument(content)
		require.Error(t, err, rule)
		require.Equal(t, rule, reprocess.AsProblem(err).Rule)
	}
	require.Zero(t, b.verifyFiles().Files)
}

// A document is found, folded and verified like any entity; its file missing or changed is
// named, and neither age nor the daily removal touches it.
func TestDocumentsAreKeptAndVerified(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	model := reprocess.Subject{Kind: reprocess.OnModel, ID: b.recorder}
	id, f := b.paper(reprocess.DocInstructions, "Rook 3 booklet", model, "")
	person, _ := b.paper(reprocess.DocCertificate, "Course",
		reprocess.Subject{Kind: reprocess.OnPerson, ID: b.boss.Person.ID}, "2026-12-24")
	late, _ := b.paper(reprocess.DocCertificate, "Later course",
		reprocess.Subject{Kind: reprocess.OnPerson, ID: b.boss.Person.ID}, "2026-12-25")

	w, err := b.SetUp(ctx)
	require.NoError(t, err)
	require.NotNil(t, w.Documents[id], "a step wants it at hand")
	require.Nil(t, w.Documents[person], "papers about the staff are read when asked for")
	w, err = b.Documents(ctx)
	require.NoError(t, err)
	require.Len(t, w.Documents, 3)
	w, err = b.Week(ctx, "2026-11-24")
	require.NoError(t, err)
	require.NotNil(t, w.Documents[person])
	require.Nil(t, w.Documents[late], "31 days on")

	again := f
	again.Edition = "2"
	b.refusedBy("same_file", reprocess.RenewDocument{Document: id, DocumentFile: again})
	b.refusedBy("on_file", reprocess.AddDocument{Kind: reprocess.DocSheet, Title: "Twice",
		About: []reprocess.Subject{model}, DocumentFile: again})
	second, err := b.KeepDocument([]byte("%PDF-1.4\nRook 3 booklet, 2nd"))
	require.NoError(t, err)
	second.Edition, second.Dated = "2", "2026-11-03"
	b.must(b.boss, reprocess.RenewDocument{Document: id, DocumentFile: second})
	b.must(b.boss, reprocess.WithdrawDocument{Document: person, Reason: "wrong"})
	w, err = b.Week(ctx, "2026-11-24")
	require.NoError(t, err)
	require.Nil(t, w.Documents[person], "withdrawn: no day to tell")
	found, err := b.Entries(ctx, Filter{Ref: reprocess.Ref{Table: reprocess.TableModel,
		ID: b.recorder}, Act: reprocess.ActDocument}, 0, 10)
	require.NoError(t, err)
	require.Len(t, found, 1, "the trail of the model")

	b.clock.pass(200 * 365 * 24 * time.Hour)
	n, err := b.RemoveOldFiles(ctx, b.boss)
	require.NoError(t, err)
	require.Zero(t, n)
	r := b.verifyFiles()
	require.Empty(t, r.Difference)
	require.Empty(t, r.Unnamed)
	require.Equal(t, 4, r.Files)

	path := b.filePath(f.SHA256)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(whole), "Rook", "rook", 1)), 0o600))
	require.Contains(t, b.verifyFiles().Difference, f.SHA256+": its bytes are not the ones")
	_, err = b.KeptFile(f.SHA256)
	require.Equal(t, "file_damaged", reprocess.AsProblem(err).Rule, "never given out")
	require.NoError(t, os.Remove(path))
	require.Contains(t, b.verifyFiles().Difference, "names this paper and it is not there")
	require.NoError(t, os.WriteFile(path, whole, 0o600))

	out := b.Dir() + "-copy"
	r, err = Backup(ctx, b.Dir(), out, false)
	require.NoError(t, err)
	require.Equal(t, 4, r.Files)
	require.NoError(t, os.RemoveAll(out))
}
