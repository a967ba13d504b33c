package web

import (
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

func phonesOf(w *reprocess.World) []*reprocess.EnrolledPhone {
	var all []*reprocess.EnrolledPhone
	for _, p := range w.Phones {
		all = append(all, p)
	}
	slices.SortFunc(all, func(a, b *reprocess.EnrolledPhone) int {
		return strings.Compare(strings.ToLower(a.Name)+a.ID, strings.ToLower(b.Name)+b.ID)
	})
	return all
}

func (v *Visit) phonesPage(name string) (*officePage, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	p := titledOffice("Which phones may be used for signing in?")
	var rows, ended []ruledLine
	for _, phone := range phonesOf(w) {
		if phone.Revoked != 0 {
			ended = append(ended, ruledLine{Words: phone.Name,
				Notes: []string{"ended " + v.moment(phone.Revoked)}})
			continue
		}
		note := "since " + v.moment(phone.At)
		if phone.ID == v.phone {
			note += "; this one"
		}
		rows = append(rows, ruledLine{To: "/phones/" + phone.ID, Words: phone.Name,
			Notes: []string{note}})
	}
	p.list("In use", "None is enrolled.", rows...)
	f := &form{Heading: "Another one", To: "/phones/invite", Act: "Make a code for it"}
	f.must("name", "Name of the phone or station", name, "Such as Bench 2, up to 40 characters")
	p.form(f)
	if v.phone == "" {
		here := &form{Heading: "This one", To: "/phones/this", Act: "Enrol this phone", Small: true}
		own := TextField("own_name", "Name of this phone", name)
		own.Required = true
		here.field(own)
		p.form(here)
	}
	if len(ended) > 0 {
		p.list("Ended", "", ended...)
	}
	return p, nil
}

func showPhones(v *Visit) error {
	p, err := v.phonesPage("")
	if err != nil {
		return err
	}
	return v.Show(p)
}

// invitePhone shows the code once, in the answer itself.
func invitePhone(v *Visit) error {
	page, err := v.phonesPage(v.Field("name"))
	if err != nil {
		return err
	}
	code, err := v.Store().InvitePhone(v.Context(), sqlite.By{Actor: v.Actor(), Key: v.Key()},
		v.Field("name"))
	if err != nil {
		return v.Refuse(err, page)
	}
	p := titledOffice("Type this code on the other phone",
		"It is shown only now, and lasts a day. On that phone open "+
			strings.ToLower(v.server.cfg.BaseURL.String())+"/phone")
	p.Code = code
	p.act("/phones", "Done")
	return v.Show(p)
}

func enrolThisPhone(v *Visit) error {
	page, err := v.phonesPage(v.Field("own_name"))
	if err != nil {
		return err
	}
	token, err := v.Store().EnrolThisPhone(v.Context(),
		sqlite.By{Actor: v.Actor(), Key: v.Key()}, v.Field("own_name"))
	if err != nil {
		return v.Refuse(err, page)
	}
	v.setCookie(cookiePhone, token, phoneCookieLife)
	return v.Went("/phones", "This phone is enrolled.")
}

func (v *Visit) onePhone() (*reprocess.EnrolledPhone, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	phone := w.Phones[v.Param("id")]
	if phone == nil {
		return nil, notFound("phone")
	}
	return phone, nil
}

func phoneEndPage(phone *reprocess.EnrolledPhone, reason string) *officePage {
	p := titledOffice("Why is "+phone.Name+" no longer used?",
		"It ends at once, with every sign-in on it. It can come back only as a new one.")
	var rows []ruledLine
	for _, why := range []string{"Lost", "No longer used", "Given away"} {
		rows = append(rows, ruledLine{Taps: []tap{{To: "/phones/" + phone.ID, Words: why,
			Kept: []Kept{{"reason", why}}}}})
	}
	p.list("", "", rows...)
	f := &form{To: "/phones/" + phone.ID, Act: "End this phone"}
	f.must("reason", "Another reason", reason, "Up to 200 characters")
	p.form(f)
	return p
}

func showPhoneEnd(v *Visit) error {
	phone, err := v.onePhone()
	if err != nil {
		return err
	}
	return v.Show(phoneEndPage(phone, ""))
}

func endPhone(v *Visit) error {
	phone, err := v.onePhone()
	if err != nil {
		return err
	}
	err = v.Store().RevokePhone(v.Context(), sqlite.By{Actor: v.Actor(), Key: v.Key()}, phone.ID,
		v.Field("reason"))
	if err != nil {
		return v.Refuse(err, phoneEndPage(phone, v.Field("reason")))
	}
	return v.Went("/phones", phone.Name+" is ended.")
}
