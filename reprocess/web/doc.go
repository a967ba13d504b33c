// Package web draws the pages and takes the forms; fiber is used here and nowhere else.
//
// A page is three things: a template static/tmpl/NAME.html that defines "main", a file here
// with a struct that embeds Base and the functions that answer, and one row in routes.go.
//
//	type kitPage struct {
//		Base
//		State State
//		Soil  Choices
//	}
//
//	func kit(v *Visit) error {            // GET: gather facts, show
//		k, err := v.Store().Kit(v.Context(), v.Param("kit"))
//		if err != nil {
//			return err                    // becomes a typed error page
//		}
//		return v.Show(&kitPage{Base: Titled("Released: " + k.Number), ...})
//	}
//
//	func takeBack(v *Visit) error {       // POST: parse, do, redirect
//		if _, err := v.Do(reprocess.TakeBack{...}); err != nil {
//			return v.Refuse(err, page)    // the form again, values kept, the problem on top
//		}
//		return v.Went("/k/"+id, "Taken back: 17.")
//	}
//
// Show fills the rest of Base: person, places, warnings, form token, keys, the notice of the
// act before. The page is rendered whole into a buffer and sent, or an error page is.
//
// Words of templates. Every POST form begins with {{template "keys" $}}: form token, a fresh
// idempotency key, and the phone's clock. The next act is <div class="acts"><button
// class="act">; other acts there are class "edged", in text class "plain". Lists are <ul
// class="ruled">, their lines links or text. Parts that take a value: {{template "state"
// .State}} (set Base.OwnHeading), {{template "field" .Name}}, {{template "choices" .Soil}},
// {{template "wet" .Wet}} and "wet-line" (with the script js/wet.js in a block "scripts").
// A form of <form class="grow"> with <div class="fields"> and <div class="acts"> puts its act
// in the lower half. A form with data-outbox="what was tapped" is kept on the phone and sent
// again when the server did not answer; data-outbox-seconds="5" says that a later sending
// would not be true any more. Templates never compare: give them booleans.
package web
