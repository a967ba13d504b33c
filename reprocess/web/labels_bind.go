package web

import (
	"crypto/rand"
	"net/url"
	"strings"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// thing is what a label stands for: its words, and what a re-issue needs.
type thing struct {
	words, to, kit string
	picture        labels.Label
}

func (v *Visit) labelByParam() (*reprocess.Label, error) {
	code, err := labels.Parse(v.Param("code"))
	if err != nil {
		return nil, notFound("label")
	}
	return v.Store().LabelByCode(v.Context(), string(code))
}

// thingOf finds what a label stands for.
func (v *Visit) thingOf(l *reprocess.Label) (thing, error) {
	switch l.Kind {
	case reprocess.CodePiece:
		return v.pieceThing(l)
	case reprocess.CodeContainer:
		c, err := sqlite.Get[reprocess.Container](v.Context(), v.Store(),
			reprocess.TableContainer, l.Target)
		if err != nil {
			return thing{}, err
		}
		w, err := v.stock()
		if err != nil {
			return thing{}, err
		}
		return thing{words: containerWords(w, c), to: "/container/" + c.ID,
			picture: labelOfContainer(w, c, labels.Code(l.Code))}, nil
	case reprocess.CodeBlank:
		n := int(v.typing().decimal("number", l.Number, 0))
		return thing{words: "Blank sticker no. " + l.Number, to: "/label/" + l.Code + "/bind",
			picture: labels.BlankLabel{Code: labels.Code(l.Code), Number: n}}, nil
	}
	return thing{}, notFound("label to print")
}

func (v *Visit) pieceThing(l *reprocess.Label) (thing, error) {
	piece, err := sqlite.Get[reprocess.Piece](v.Context(), v.Store(), reprocess.TablePiece, l.Target)
	if err != nil {
		return thing{}, err
	}
	w, err := v.setUp()
	if err != nil {
		return thing{}, err
	}
	t := thing{words: strings.ToUpper(string(piece.Kind[:1])) + string(piece.Kind[1:]) + " " +
		piece.Serial, to: "/kits?find=" + url.QueryEscape(piece.Serial), kit: piece.Kit}
	picture := labels.DeviceLabel{Code: labels.Code(l.Code), Piece: string(piece.Kind),
		Clinic: w.Settings.LabelLine}
	if piece.Kit != "" {
		k, err := sqlite.Get[reprocess.Kit](v.Context(), v.Store(), reprocess.TableKit, piece.Kit)
		if err != nil {
			return thing{}, err
		}
		picture.Number, t.to = k.Number, "/kit/"+k.ID
		t.words = "Kit " + k.Number + ", " + strings.ToLower(t.words[:1]) + t.words[1:]
	}
	t.picture = picture
	return t, nil
}

// labelled is the label of the address and what it is on.
func (v *Visit) labelled() (*reprocess.Label, thing, error) {
	l, err := v.labelByParam()
	if err != nil {
		return nil, thing{}, err
	}
	t, err := v.thingOf(l)
	return l, t, err
}

func showOneLabel(v *Visit) error {
	l, t, err := v.labelled()
	if err != nil {
		return err
	}
	p := titledOffice(t.words, "Code "+labels.Code(l.Code).Groups())
	if l.Withdrawn != 0 {
		p.Lead = append(p.Lead, "This label was withdrawn "+v.moment(l.Withdrawn)+".")
		p.act(t.to, "What it was on")
		return v.Show(p)
	}
	at := "/label/" + url.PathEscape(l.Code)
	p.Picture, p.PictureWords = at+"/label.svg", "The label of "+t.words
	p.list("Files", "", ruledLine{To: at + "/label.pdf", Words: "PDF, at true size", File: true},
		ruledLine{To: at + "/label.png", Words: "PNG, 300 dots per inch", File: true},
		ruledLine{To: at + "/label.svg?keep=yes", Words: "SVG", File: true})
	p.list("", "", ruledLine{To: t.to, Words: "What it is on"})
	if l.Kind != reprocess.CodeBlank {
		f := &form{Heading: "Label gone or unreadable?", Act: "Give it a new label", Small: true,
			To: "/labels/again/" + string(l.Kind) + "/" + url.PathEscape(l.Target)}
		f.must("reason", "Why a new one", "", "The old label is withdrawn at once")
		p.form(f)
	}
	return v.Show(p)
}

// labelFile draws one label as a file: label.pdf, label.png or label.svg.
func labelFile(v *Visit) error {
	_, t, err := v.labelled()
	if err != nil {
		return err
	}
	style := labels.Style{Base: v.server.cfg.BaseURL, Form: labels.Form(v.Query("form")),
		AcceptSmall: v.Query("insist") == "yes"}
	name := v.Param("file")
	var content []byte
	kind := map[string]string{"label.pdf": "application/pdf", "label.png": "image/png",
		"label.svg": "image/svg+xml"}[name]
	switch name {
	case "label.pdf":
		content, err = labels.LabelPDF(t.picture, style, v.Now.UTC.Time())
	case "label.png":
		style.DPI = 300
		content, err = labels.PNG(t.picture, style, 300)
	case "label.svg":
		style.AcceptSmall = true // a picture on the screen; what is printed is asked about
		content, err = labels.SVG(t.picture, style)
	default:
		return notFound("file")
	}
	if err != nil {
		return asInvalid(err)
	}
	if name == "label.svg" && v.Query("keep") == "" {
		v.c.Set("Content-Type", kind)
		return v.c.Send(content)
	}
	return v.Download(name, kind, content)
}

// reissue gives a piece or container a new code; the old ones end at once.
func reissue(v *Visit) error {
	kind, target := reprocess.CodeKind(v.Param("kind")), v.Param("id")
	code, err := labels.NewCode(rand.Reader)
	if err != nil {
		return err
	}
	if _, err := v.Do(reprocess.Reissue{Kind: kind, Target: target, Code: string(code),
		Reason: v.Field("reason")}); err != nil {
		return err
	}
	l, err := v.inForce(target)
	if err != nil {
		return err
	}
	if l == nil {
		return notFound("label")
	}
	return v.Went("/label/"+url.PathEscape(l.Code), "The new label counts from now on.")
}

// showBind asks what a blank sticker is for.
func showBind(v *Visit) error {
	l, err := v.labelByParam()
	if err != nil {
		return err
	}
	page, err := v.bindPage(l)
	if err != nil {
		return err
	}
	return v.Show(page)
}

func (v *Visit) bindPage(l *reprocess.Label) (*officePage, error) {
	p := titledOffice("What is sticker " + orText(l.Number, "without number") + " on?")
	if l.Kind != reprocess.CodeBlank || l.Withdrawn != 0 {
		p.Lead = []string{"It is no blank sticker any more: it belongs to something, or was " +
			"withdrawn."}
		p.act("/label/"+url.PathEscape(l.Code), "Look at it")
		return p, nil
	}
	number := v.Query("kit")
	if number == "" && v.entitled(reprocess.ActOpenContainer) {
		w, err := v.stock()
		if err != nil {
			return nil, err
		}
		open := openPage(v, w, l.Code, "")
		for i := range open.Blocks {
			if f := open.Blocks[i].Form; f != nil {
				f.Heading = "A container, just opened"
			}
		}
		p.Lead, p.Blocks, p.Acts = open.Lead, open.Blocks, open.Acts
	}
	f := &form{Heading: "A piece of a kit", To: "/label/" + url.PathEscape(l.Code) + "/bind",
		Act: "Show its pieces", Get: true, Small: true}
	field := CodeField("kit", "Number of the kit", number)
	f.field(field)
	p.form(f)
	if number != "" {
		return p, v.bindPieces(p, l, number)
	}
	return p, nil
}

// bindPieces offers the pieces of a kit, each by one tap.
func (v *Visit) bindPieces(p *officePage, l *reprocess.Label, number string) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	k, err := v.Store().KitByNumber(v.Context(), w.Settings.Site, strings.ToUpper(number))
	if err != nil {
		p.Notice = noticeOf(notFound("kit"))
		return nil
	}
	var rows []ruledLine
	for _, id := range k.Pieces {
		piece, err := sqlite.Get[reprocess.Piece](v.Context(), v.Store(), reprocess.TablePiece, id)
		if err != nil {
			return err
		}
		now, err := v.inForce(id)
		if err != nil {
			return err
		}
		note := "has no label yet"
		if now != nil {
			note = "has a label, which is withdrawn at once"
		}
		rows = append(rows, ruledLine{Words: "Compare the serial on the plate: " + piece.Serial,
			Notes: []string{note}, Taps: []tap{{To: "/label/" + url.PathEscape(l.Code) + "/bind",
				Words: "It is on this " + string(piece.Kind), Main: true,
				Kept: []Kept{{"piece", id}, {"kit", k.ID}}}}})
	}
	p.list("Kit "+k.Number, "The kit has no pieces.", rows...)
	return nil
}

func bind(v *Visit) error {
	l, err := v.labelByParam()
	if err != nil {
		return err
	}
	cmd := reprocess.Reissue{Kit: v.Field("kit"), Kind: reprocess.CodePiece,
		Target: v.Field("piece"), Code: l.Code, Reason: "sticker from the roll"}
	if _, err := v.Do(cmd); err != nil {
		page, fault := v.bindPage(l)
		if fault != nil {
			return fault
		}
		return v.Refuse(err, page)
	}
	return v.Went("/kit/"+url.PathEscape(v.Field("kit")), "The sticker counts from now on.")
}
