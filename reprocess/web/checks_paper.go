package web

import (
	"bytes"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// checkPaperField takes what the tester gave: a PDF as it is, or a picture of the sheet.
func checkPaperField() Field {
	f := TextField("file", "Its paper, if there is one", "")
	f.Kind = "file"
	f.Hint = "The tester’s PDF, up to 16 MiB, kept as it is; or a picture of the sheet, JPEG or " +
		"PNG, up to 6 MB, kept without its place and time. It can be opened from this page."
	return f
}

// keepCheckPaper keeps the paper of the form under its hash; empty when none was chosen.
func (v *Visit) keepCheckPaper() (string, error) {
	raw, _, err := v.File("file")
	switch {
	case err != nil || len(raw) == 0:
		return "", err
	case bytes.HasPrefix(raw, []byte("%PDF-")):
		kept, err := v.Store().KeepDocument(raw)
		return kept.SHA256, err
	case len(raw) > mostBody:
		return "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "picture",
			Text: "This file is no PDF, and too large for a picture.",
			Fix:  "Choose the PDF, or a picture of at most 6 MB."}
	}
	sha, _, err := v.keepPicture()
	return sha, err
}

func checkPaperAt(piece, sha string) string { return "/checks/" + piece + "/paper/" + sha }

// checkPaper sends a paper that an entered check of this piece names, of earlier checks too.
// Nothing else that is kept under a hash can be had this way.
func checkPaper(v *Visit) error {
	piece, sha := v.Param("piece"), v.Param("sha")
	on, err := v.checkNaming(piece, sha)
	if err != nil {
		return err
	}
	content, err := v.Store().KeptFile(sha)
	if err != nil {
		return err
	}
	if reprocess.CheckPDF(content) != nil {
		return keptPicture(v)
	}
	v.c.Set(fiber.HeaderContentSecurityPolicy, documentPolicy)
	return v.pdf("check-"+piece+"-"+string(on)+".pdf", content)
}

// checkNaming finds the day of the check whose paper has this hash.
func (v *Visit) checkNaming(piece, sha string) (reprocess.Date, error) {
	const most = 1000 // of one piece; twenty kinds every month for four years
	entries, err := v.Store().Entries(v.Context(), sqlite.Filter{Act: reprocess.ActCheck,
		Result: reprocess.ResultDone, Ref: reprocess.Ref{Table: reprocess.TablePiece, ID: piece}}, 0, most)
	if err != nil {
		return "", err
	}
	for _, e := range entries {
		for _, b := range e.Events {
			if ev, ok := b.Event.(reprocess.CheckRecorded); ok && ev.Done.SHA256 == sha {
				return ev.Done.On, nil
			}
		}
	}
	return "", notFound("paper of a check")
}
