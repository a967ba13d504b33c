package web

import (
	"bytes"

	"handback/reprocess"
)

// picturePage takes a picture of a damage or of a display.
type picturePage struct {
	Base
	ID, Number string
	File       Field
	Piece      *Choices
	About      Field
}

func pictureField() Field {
	f := TextField("file", "Picture", "")
	f.Kind, f.Required = "file", true
	f.Hint = "JPEG or PNG, up to 6 MB. Place and time inside the file are not kept. No faces, no names."
	return f
}

func (x *view) picturePage() *picturePage {
	p := &picturePage{Base: Titled("What does the picture show? Kit " + x.k.Number), ID: x.k.ID,
		Number: x.k.Number, File: pictureField(),
		About: TextField("about", "What it shows", x.v.Field("about"))}
	p.About.Required = true
	p.About.Hint = "Such as crack beside the door, or the display after the test. No names."
	if len(x.tracks) > 1 {
		c := Choices{Name: "piece", Legend: "Of which piece?", Required: true}
		for _, t := range x.tracks {
			c.Options = append(c.Options, Choice{Value: t.Piece.ID, Words: capital(string(t.Piece.Kind))})
		}
		c = c.Pick(x.v.Field("piece"), x.piece)
		p.Piece = &c
	}
	return p
}

func showPicturePage(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	return v.Show(x.picturePage())
}

// takePicture keeps a picture with a piece of the kit.
func takePicture(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	piece := v.Field("piece")
	if piece == "" && len(x.tracks) == 1 {
		piece = x.tracks[0].Piece.ID
	}
	sha, size, err := v.keepPicture()
	if err == nil {
		_, err = v.Do(reprocess.AddPicture{Kit: x.k.ID, Piece: piece, SHA256: sha, Bytes: size,
			About: v.Field("about")})
	}
	if err != nil {
		return v.Refuse(err, x.picturePage())
	}
	return v.Went("/kit/"+x.k.ID+"/history", "The picture is kept.")
}

// keptPicture shows a picture that an entry names. Whatever else is kept under a hash is never
// sent as a picture.
func keptPicture(v *Visit) error {
	content, err := v.Store().KeptFile(v.Param("sha"))
	if err != nil {
		return err
	}
	switch {
	case bytes.HasPrefix(content, []byte("\x89PNG\r\n\x1a\n")):
		return v.Image("image/png", content)
	case bytes.HasPrefix(content, []byte("\xff\xd8\xff")):
		return v.Image("image/jpeg", content)
	}
	return notFound("picture")
}

func samplePicture() Page {
	about := TextField("about", "What it shows", "")
	return &picturePage{Base: Titled("What does the picture show? Kit 17"), ID: "K18", Number: "17",
		File: pictureField(), About: about}
}

// pictureLine is a picture as the timeline shows it.
type pictureLine struct{ To, About string }

// pictures are those that an entry names: of a damage, of a trace, and the strip of a test.
func (x *view) pictures(e *reprocess.Entry) []pictureLine {
	var all []pictureLine
	add := func(sha, about string) {
		if sha != "" {
			all = append(all, pictureLine{"/kit/" + x.k.ID + "/picture/" + sha, about})
		}
	}
	for _, b := range e.Events {
		switch ev := b.Event.(type) {
		case reprocess.PictureAdded:
			add(ev.SHA256, "Picture: "+ev.About)
		case reprocess.CheckRecorded:
			if ev.Done.SHA256 != "" && acts(reprocess.ActCheck, reprocess.ActStep).lets(x.v.Person) {
				all = append(all, pictureLine{checkPaperAt(ev.Piece, ev.Done.SHA256), "The paper of the check"})
			}
		case reprocess.StepRecorded:
			if p := ev.Record.Paper; p != nil && len(all) == 0 {
				add(p.Sheet, "The sheet of paper")
			}
			if t := ev.Record.Test; t != nil && t.Kind == reprocess.TestPhoto {
				add(t.SHA256, "Photo of the trace")
			} else if t != nil {
				add(t.Strip, "Strip of the test recording, bench check, not for diagnosis")
			}
		}
	}
	return all
}
