package web

import (
	"net/url"
	"strings"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// signInPage asks for name and secret; Kept waits until somebody is signed in.
type signInPage struct {
	Base
	Name, Secret Field
	To           string
	Kept         []Kept
}

func signInPageOf(to string, kept []Kept) *signInPage {
	name := TextField("name", "Short name", "")
	name.Auto, name.Required, name.Plain = "username", true, true
	secret := SecretField("secret", "Secret", "current-password")
	secret.Hint = "Your PIN or password"
	return &signInPage{Base: Titled("Who are you?"), Name: name, Secret: secret,
		To: localPath(to), Kept: kept}
}

func sampleSignIn() Page {
	p := signInPageOf("/d/7M2N4P6R8S0T2W5YH", []Kept{{"soil", "visible"}})
	p.Name.Value, p.Secret.Fault = "ada", "The name or the secret is not right."
	return p
}

func showSignIn(v *Visit) error {
	if v.Person != nil {
		return v.Went(localPath(v.Query("to")), "")
	}
	if err := v.enrolled(); err != nil {
		return v.showNotEnrolled(err)
	}
	page := signInPageOf(v.Query("to"), nil)
	if v.ended != nil {
		page.Notice = &Notice{Text: v.ended.Text, Fix: v.ended.Fix}
	}
	return v.Show(page)
}

// enrolled refuses a browser that is no enrolled phone. A demonstration has invented people
// only and lets any browser in.
func (v *Visit) enrolled() error {
	if v.server.demo() {
		return nil
	}
	_, err := v.Store().PhoneOf(v.Context(), v.cookie(cookiePhone))
	return err
}

func (v *Visit) showNotEnrolled(err error) error {
	p, status := judge(err)
	if p.Code != reprocess.Forbidden {
		return err
	}
	v.refused = p.Rule
	page := phonePageOf("")
	page.Title = strings.TrimSuffix(p.Text, ".")
	v.page = "phone"
	return v.send(status, page)
}

func signIn(v *Visit) error {
	page := signInPageOf(v.Field("to"), v.keptFields())
	page.Name.Value = v.Field("name")
	token, person, err := v.Store().SignIn(v.Context(), sqlite.SignInRequest{
		SignIn: v.Field("name"), Secret: v.raw("secret"), PhoneToken: v.cookie(cookiePhone)})
	if err != nil {
		return v.Refuse(err, page)
	}
	if err := v.usedPass(token, person); err != nil {
		return err
	}
	news, err := v.secretNews(person.ID, true)
	if err != nil {
		return err
	}
	v.begin(token, person)
	if len(page.Kept) > 0 {
		v.tellNext(news)
		return v.resume(fiber.StatusOK, page.To, page.Kept)
	}
	return v.Went(page.To, news)
}

// begin gives the browser its new session; whoever was signed in here before is out.
func (v *Visit) begin(token string, person *reprocess.Person) {
	if v.session != "" {
		if err := v.Store().SignOut(v.Context(), v.session); err != nil {
			v.server.log.Error("ending the former session", "id", v.id, "err", err.Error())
		}
	}
	v.setCookie(cookieSession, token, 0)
	v.Person, v.session, v.form = person, token, v.Store().FormToken(token)
}

func signOut(v *Visit) error {
	if err := v.Store().SignOut(v.Context(), v.session); err != nil {
		return err
	}
	v.dropCookie(cookieSession)
	return v.Went("/sign-in", "")
}

// phonePage takes an enrolment code.
type phonePage struct {
	Base
	Code Field
}

func phonePageOf(code string) *phonePage {
	f := TextField("code", "Enrolment code", code)
	f.Required, f.Code, f.Hint = true, true, "12 letters and figures, from a supervisor"
	return &phonePage{Base: Titled("This phone is not enrolled"), Code: f}
}

func samplePhone() Page { return phonePageOf("7M2N-4P6R-8S0T") }

func showPhone(v *Visit) error { return v.Show(phonePageOf("")) }

func enrolPhone(v *Visit) error {
	token, err := v.Store().RedeemPhone(v.Context(), v.Field("code"))
	if err != nil {
		return v.Refuse(err, phonePageOf(v.Field("code")))
	}
	v.setCookie(cookiePhone, token, phoneCookieLife)
	return v.Went("/sign-in", "This phone is enrolled.")
}

// startPage sets up the first supervisor.
type startPage struct {
	Base
	Name, SignIn, Secret, Again, Phone Field
}

func startPageOf(name, short, phone string) *startPage {
	p := &startPage{Base: Titled("Who looks after this site?"),
		Name:   TextField("name", "Your name", name),
		SignIn: TextField("sign_in", "Short name", short),
		Secret: SecretField("secret", "Password", "new-password"),
		Again:  SecretField("secret_again", "Password, once more", "new-password"),
		Phone:  TextField("phone", "This phone or computer", phone)}
	p.Name.Auto, p.Name.Required = "name", true
	p.Name.Hint = "As it stands under everything you sign"
	p.SignIn.Auto, p.SignIn.Required, p.SignIn.Plain = "username", true, true
	p.SignIn.Hint = "Typed to sign in, such as ada"
	p.Secret.Hint = "At least 12 characters; several words are easy to remember"
	p.Phone.Required = true
	p.Phone.Hint = "It becomes the first that may be used for signing in, such as Office"
	return p
}

func sampleStart() Page { return startPageOf("Ada Okafor", "ada", "Office") }

// oneTime demands that the code of the address is for this.
func (v *Visit) oneTime(kind string) (*reprocess.Person, error) {
	found, person, err := v.Store().CodeFor(v.Context(), v.Param("code"))
	if err == nil && found != kind {
		err = &reprocess.Problem{Code: reprocess.Forbidden, Rule: "code",
			Text: "This one-time link is for something else.", Fix: "Ask for a new one."}
	}
	return person, err
}

func showStart(v *Visit) error {
	if _, err := v.oneTime(sqlite.CodeFirst); err != nil {
		return err
	}
	return v.Show(startPageOf("", "", ""))
}

func start(v *Visit) error {
	page := startPageOf(v.Field("name"), v.Field("sign_in"), v.Field("phone"))
	secret, err := v.newSecret(&page.Again)
	if err != nil {
		return v.Refuse(err, page)
	}
	in, err := v.Store().CreateFirst(v.Context(), sqlite.FirstRequest{Code: v.Param("code"),
		Name: v.Field("name"), SignIn: v.Field("sign_in"), Secret: secret,
		PhoneName: v.Field("phone")})
	if err != nil {
		return v.Refuse(err, page)
	}
	return v.welcome(in, "You are set up, and this phone is enrolled.")
}

// newSecret demands that a new secret was typed twice alike. It is not trimmed.
func (v *Visit) newSecret(again *Field) (string, error) {
	secret := v.raw("secret")
	if secret == v.raw("secret_again") {
		return secret, nil
	}
	again.Fault = "It differs from the first."
	return "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "secret_twice",
		Text: "The two secrets are not the same.", Fix: "Type the new one twice."}
}

// welcome sets the cookies of a used code and goes on.
func (v *Visit) welcome(in *sqlite.SignedIn, say string) error {
	if in.PhoneToken != "" {
		v.setCookie(cookiePhone, in.PhoneToken, phoneCookieLife)
	}
	if in.Token == "" {
		return v.Went("/sign-in", "")
	}
	if err := v.usedPass(in.Token, in.Person); err != nil {
		return err
	}
	v.begin(in.Token, in.Person)
	return v.Went("/", say)
}

// secretPage sets somebody's own secret; AskOld when they have one.
type secretPage struct {
	Base
	Rule               string
	AskOld             bool
	Old, Secret, Again Field
}

func secretPageOf(p *reprocess.Person, askOld bool) *secretPage {
	page := &secretPage{Base: Titled("Which secret will be yours?"), AskOld: askOld,
		Old:    SecretField("secret_old", "Secret until now", "current-password"),
		Secret: SecretField("secret", "New secret", "new-password"),
		Again:  SecretField("secret_again", "New secret, once more", "new-password"),
		Rule:   "A PIN of at least 6 digits, or a password of at least 12 characters."}
	if p != nil {
		page.Title = "Which secret will be yours, " + p.Name + "?"
		if sqlite.NeedsPassword(p.Roles) {
			page.Rule = "A password of at least 12 characters; several words are easy to remember."
		}
	}
	return page
}

func sampleSecret() Page {
	return secretPageOf(&reprocess.Person{Name: "Ada Okafor"}, true)
}

func showFirstSecret(v *Visit) error {
	person, err := v.oneTime(sqlite.CodeSecret)
	if err != nil {
		return err
	}
	return v.Show(secretPageOf(person, false))
}

func setFirstSecret(v *Visit) error {
	person, err := v.oneTime(sqlite.CodeSecret)
	if err != nil {
		return err
	}
	page := secretPageOf(person, false)
	secret, err := v.newSecret(&page.Again)
	if err != nil {
		return v.Refuse(err, page)
	}
	before, err := v.secretNews(person.ID, false)
	if err != nil {
		return err
	}
	in, err := v.Store().RedeemBeside(v.Context(), v.Param("code"), secret, v.cookie(cookiePhone),
		v.besideOf(person))
	if err != nil {
		return v.Refuse(err, page)
	}
	return v.welcome(in, strings.TrimSpace("Your secret is kept. "+before))
}

func showOwnSecret(v *Visit) error { return v.Show(secretPageOf(v.Person, true)) }

func setOwnSecret(v *Visit) error {
	page := secretPageOf(v.Person, true)
	secret, err := v.newSecret(&page.Again)
	if err != nil {
		return v.Refuse(err, page)
	}
	token, err := v.Store().ChangeSecret(v.Context(), sqlite.By{Actor: v.Actor(), Key: v.Key()},
		v.raw("secret_old"), secret)
	if err != nil {
		return v.Refuse(err, page)
	}
	v.session = ""
	v.begin(token, v.Person)
	return v.Went("/", "Your new secret is kept. Everywhere else you are signed out.")
}

// Sign checks the secret typed for this very act, in the field "secret", and gives an actor
// who signs. It counts and waits as sign-in does.
func (v *Visit) Sign() (reprocess.Actor, error) {
	return v.SignWith("secret")
}

// SignWith is Sign by a field of another name.
func (v *Visit) SignWith(field string) (reprocess.Actor, error) {
	actor := v.Actor()
	if v.raw(field) == "" {
		return actor, &reprocess.Problem{Code: reprocess.Forbidden, Rule: "signature",
			Text: "This has to be signed.", Fix: "Enter your own secret and try again."}
	}
	err := v.Store().CheckSecret(v.Context(), v.Person.ID, v.raw(field), v.phone)
	actor.Signed = err == nil
	return actor, err
}

// SignField asks for the secret that signs an act.
func SignField() Field {
	f := SecretField("secret", "Your own secret, to sign this", "current-password")
	return f
}

// signInAt is the sign-in that leads back to a page.
func signInAt(to string) string { return "/sign-in?to=" + url.QueryEscape(to) }
