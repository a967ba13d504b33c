package sqlite

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

func sumOf(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}

// An upload that was cut off goes on where the server says, a piece sent twice counts once, a
// gap is refused, and the hash is the server's own.
func TestAnUploadGoesOnWhereItWasCut(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	file := bytes.Repeat([]byte("heartbeat "), 40_000) // 400,000 bytes, two pieces
	d, err := b.NewDraft(ctx, "K10", "boss", int64(len(file)), sumOf(file))
	require.NoError(t, err)
	d, err = b.AddPiece(ctx, "K10", d.ID, 0, file[:MostPieceBytes])
	require.NoError(t, err)
	require.Equal(t, int64(MostPieceBytes), d.Have)
	_, _, err = b.ReadDraft(ctx, "K10", d.ID)
	require.Equal(t, "not_whole", reprocess.AsProblem(err).Rule)
	_, err = b.AddPiece(ctx, "K10", d.ID, MostPieceBytes+1, file[MostPieceBytes+1:])
	require.Equal(t, "piece", reprocess.AsProblem(err).Rule, "a gap")
	d, err = b.AddPiece(ctx, "K10", d.ID, 1000, file[1000:2000])
	require.NoError(t, err, "sent twice")
	require.Equal(t, int64(MostPieceBytes), d.Have)
	d, err = b.FindDraft(ctx, "K10", d.ID)
	require.NoError(t, err)
	require.Equal(t, int64(MostPieceBytes), d.Have, "what the server tells a browser that asks")
	_, err = b.FindDraft(ctx, "K11", d.ID)
	require.Equal(t, "draft_gone", reprocess.AsProblem(err).Rule, "of another kit")
	d, err = b.AddPiece(ctx, "K10", d.ID, d.Have, file[d.Have:])
	require.NoError(t, err)
	require.Equal(t, sumOf(file), d.SHA256)
	_, got, err := b.ReadDraft(ctx, "K10", d.ID)
	require.NoError(t, err)
	require.Equal(t, file, got)
	list, err := b.Drafts(ctx, "K10")
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.NoError(t, b.DropDraft(ctx, d.ID))
	_, err = b.FindDraft(ctx, "K10", d.ID)
	require.Equal(t, "draft_gone", reprocess.AsProblem(err).Rule)
	require.NoFileExists(t, b.draftPath(d.ID))
}

// The bounds: a piece and a file at their largest are taken, one byte more is refused.
func TestBoundsOfUploads(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	for size, ok := range map[int64]bool{0: false, 1: true, MostFileBytes: true, MostFileBytes + 1: false} {
		_, err := b.NewDraft(ctx, "K10", "boss", size, "")
		require.Equal(t, ok, err == nil, "%d bytes", size)
	}
	d, err := b.NewDraft(ctx, "K10", "boss", MostPieceBytes+1, "")
	require.NoError(t, err)
	big := make([]byte, MostPieceBytes+1)
	_, err = b.AddPiece(ctx, "K10", d.ID, 0, big)
	require.Equal(t, "piece", reprocess.AsProblem(err).Rule)
	_, err = b.AddPiece(ctx, "K10", d.ID, 0, big[:MostPieceBytes])
	require.NoError(t, err)
	_, err = b.AddPiece(ctx, "K10", d.ID, MostPieceBytes, []byte{1, 2})
	require.Equal(t, "piece", reprocess.AsProblem(err).Rule, "past the end")
}

func TestADamagedUploadIsDropped(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	d, err := b.NewDraft(ctx, "K10", "boss", 5, sumOf([]byte("hello")))
	require.NoError(t, err)
	_, err = b.AddPiece(ctx, "K10", d.ID, 0, []byte("hallo"))
	require.Equal(t, "file_damaged", reprocess.AsProblem(err).Rule)
	_, err = b.FindDraft(ctx, "K10", d.ID)
	require.Equal(t, "draft_gone", reprocess.AsProblem(err).Rule)
}

// A draft lasts a day: to the millisecond it is there, after it neither row nor bytes are.
func TestDraftsLastADay(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	d, err := b.NewDraft(ctx, "K10", "boss", 5, "")
	require.NoError(t, err)
	b.clock.pass(24 * time.Hour)
	_, err = b.FindDraft(ctx, "K10", d.ID)
	require.NoError(t, err)
	b.clock.pass(time.Millisecond)
	_, err = b.FindDraft(ctx, "K10", d.ID)
	require.Equal(t, "draft_gone", reprocess.AsProblem(err).Rule)
	_, err = b.NewDraft(ctx, "K10", "boss", 5, "")
	require.NoError(t, err)
	require.NoFileExists(t, b.draftPath(d.ID))
}

// A kept file lies under its hash, is hashed by verify, and is not given out once it is damaged.
func TestKeptFilesAreWhatTheyAreNamedBy(t *testing.T) {
	b := newBench(t)
	name, err := b.KeepFile([]byte("hello"))
	require.NoError(t, err)
	// SHA-256 of "hello"; sha256sum of GNU coreutils.
	require.Equal(t, "2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824", name)
	again, err := b.KeepFile([]byte("hello"))
	require.NoError(t, err)
	require.Equal(t, name, again)
	got, err := b.KeptFile(name)
	require.NoError(t, err)
	require.Equal(t, "hello", string(got))
	r, err := Verify(context.Background(), b.Dir(), VerifyOptions{Files: true})
	require.NoError(t, err)
	require.Empty(t, r.Difference)
	require.Equal(t, 1, r.Files)
	require.Equal(t, []string{name}, r.Unnamed, "no entry names it: told, no fault")
	path := filepath.Join(b.Dir(), "files", "2c", name)
	require.NoError(t, os.WriteFile(path, []byte("hallo"), 0o600))
	_, err = b.KeptFile(name)
	require.Equal(t, "file_damaged", reprocess.AsProblem(err).Rule)
	r, err = Verify(context.Background(), b.Dir(), VerifyOptions{Files: true})
	require.NoError(t, err)
	require.Contains(t, r.Difference, name)
	for _, bad := range []string{"", "../secrets/pepper", name[:63] + "X"} {
		_, err = b.KeptFile(bad)
		require.Equal(t, "file_gone", reprocess.AsProblem(err).Rule)
	}
}
