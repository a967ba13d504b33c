package web

import (
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// mostPiece is the size of one piece of an upload.
const mostPiece = sqlite.MostPieceBytes

// uploadState is what the server tells a browser that uploads.
type uploadState struct {
	ID    string `json:"id,omitempty"`
	Have  int64  `json:"have"`
	Size  int64  `json:"size"`
	Whole bool   `json:"whole"`
	Text  string `json:"text,omitempty"` // a problem, as a sentence
	Fix   string `json:"fix,omitempty"`
	Gone  bool   `json:"gone,omitempty"` // begin anew
}

// told answers with the state of an upload, or with the problem in the same form.
func (v *Visit) told(d sqlite.Draft, err error) error {
	if err == nil {
		return v.c.JSON(uploadState{ID: d.ID, Have: d.Have, Size: d.Size, Whole: d.Whole()})
	}
	p, status := judge(err)
	if p.Code == reprocess.Internal {
		return err
	}
	return v.c.Status(status).JSON(uploadState{Have: d.Have, Size: d.Size, Text: p.Text, Fix: p.Fix,
		Gone: p.Rule == "draft_gone" || p.Rule == "file_damaged"})
}

// beginUpload makes a draft for a file that will come in pieces.
func beginUpload(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return v.told(sqlite.Draft{}, err)
	}
	sha := strings.ToLower(v.Field("sha256"))
	if sha != "" && (len(sha) != 64 || strings.Trim(sha, "0123456789abcdef") != "") {
		return v.told(sqlite.Draft{}, &reprocess.Problem{Code: reprocess.Invalid, Rule: "sha256",
			Text: "The browser’s sum of the file cannot be read.", Fix: "Upload the file again."})
	}
	return v.told(v.Store().NewDraft(v.Context(), x.k.ID, v.Person.ID, number(v.Field("size")), sha))
}

// uploadHas tells how many bytes are there, so that a dropped upload goes on.
func uploadHas(v *Visit) error {
	return v.told(v.Store().FindDraft(v.Context(), v.Param("id"), v.Param("draft")))
}

// uploadPiece takes one piece.
func uploadPiece(v *Visit) error {
	piece, _, err := v.File("piece")
	if err != nil {
		return err
	}
	return v.told(v.Store().AddPiece(v.Context(), v.Param("id"), v.Param("draft"),
		number(v.Field("at")), piece))
}
