package sqlite

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// fresh is a new folder in which nobody was ever.
func fresh(t testing.TB) *clinic {
	t.Helper()
	c := &clinic{TB: t, dir: t.TempDir(), clock: newClock(), log: new(bytes.Buffer)}
	c.reopen()
	return c
}

var firstForm = FirstRequest{Name: "Maria", SignIn: "maria", Secret: mariaSecret,
	PhoneName: "Office"}

func TestFirstCode(t *testing.T) {
	c := fresh(t)
	old, err := c.FirstCode(ctx)
	require.NoError(t, err)
	require.Regexp(t, `^[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}$`, old)
	code, err := c.FirstCode(ctx)
	require.NoError(t, err)
	kind, p, err := c.CodeFor(ctx, strings.ToLower(code))
	require.NoError(t, err)
	require.Equal(t, CodeFirst, kind)
	require.Nil(t, p)

	form := firstForm
	for _, bad := range []string{"", old, "7K2M-9QXA-03BD", code[1:]} {
		form.Code = bad
		_, err = c.CreateFirst(ctx, form)
		require.Equal(t, "code", rule(err), "only the newest code")
	}
	for why, edit := range map[string]func(*FirstRequest){
		"weak_secret": func(f *FirstRequest) { f.Secret = "482915" },
		"sign_in":     func(f *FirstRequest) { f.SignIn = "M" },
		"empty":       func(f *FirstRequest) { f.PhoneName = "" },
	} {
		form = firstForm
		form.Code = code
		edit(&form)
		_, err = c.CreateFirst(ctx, form)
		require.Equal(t, why, rule(err))
	}
	require.Zero(t, c.count(`SELECT count(*) FROM person`))
	form = firstForm
	form.Code = code
	in, err := c.CreateFirst(ctx, form)
	require.NoError(t, err, "a form with a fault does not use the code up")
	require.Equal(t, "", c.look(in.Token, false))

	_, err = c.CreateFirst(ctx, form)
	require.Equal(t, "code", rule(err), "used up")
	_, err = c.FirstCode(ctx)
	require.Equal(t, "set_up_already", rule(err))
	e, err := readEntry([]byte(c.text(`SELECT body FROM entry ORDER BY seq DESC LIMIT 1`)))
	require.NoError(t, err)
	require.Equal(t, reprocess.ActFirstSupervisor, e.Act)
	require.Equal(t, reprocess.ConsoleID, e.By)
	require.Len(t, e.Events, 3)
	c.verified()
}

func (c *clinic) text(query string, args ...any) (s string) {
	c.Helper()
	require.NoError(c, c.read.QueryRow(query, args...).Scan(&s))
	return s
}

// A code lasts 24 hours (the reference text of the project; common practice).
func TestCodesLapse(t *testing.T) {
	c := fresh(t)
	code, err := c.FirstCode(ctx)
	require.NoError(t, err)
	c.clock.pass(24*time.Hour - time.Millisecond)
	_, _, err = c.CodeFor(ctx, code)
	require.NoError(t, err)
	c.clock.pass(time.Millisecond)
	_, _, err = c.CodeFor(ctx, code)
	require.Equal(t, "code", rule(err))
	form := firstForm
	form.Code = code
	_, err = c.CreateFirst(ctx, form)
	require.Equal(t, "code", rule(err))
	c.clock.pass(-25 * time.Hour)
	_, _, err = c.CodeFor(ctx, code)
	require.Equal(t, "code", rule(err), "a clock that was set back revives nothing")
}

func TestResetAndRedeem(t *testing.T) {
	c := newClinic(t)
	was := c.plant(c.ida)
	code, err := c.ResetSecret(ctx, c.by(), c.ida, "Ida's phone")
	require.NoError(t, err)
	require.Equal(t, "signed_out", c.look(was, true))
	require.Zero(t, c.count(`SELECT count(*) FROM secret WHERE person = ?`, c.ida))
	kind, p, err := c.CodeFor(ctx, code)
	require.NoError(t, err)
	require.Equal(t, CodeSecret, kind)
	require.Equal(t, "Ida Lund", p.Name)

	_, err = c.RedeemPhone(ctx, code)
	require.Equal(t, "code", rule(err), "a code is of one kind")
	_, err = c.RedeemSecret(ctx, code, "123456", "")
	require.Equal(t, "weak_secret", rule(err))
	in, err := c.RedeemSecret(ctx, code, "739164", "")
	require.NoError(t, err)
	require.NotEqual(t, in.Token, in.PhoneToken)
	s, err := c.SessionOf(ctx, in.Token, false)
	require.NoError(t, err)
	require.Equal(t, c.ida, s.Person.ID)
	phone, err := c.PhoneOf(ctx, in.PhoneToken)
	require.NoError(t, err)
	require.Equal(t, "Ida's phone", phone.Name)
	require.Equal(t, phone.ID, s.Phone)
	_, err = c.RedeemSecret(ctx, code, "739165", in.PhoneToken)
	require.Equal(t, "code", rule(err), "used up")
	_, _, err = c.SignIn(ctx, SignInRequest{"ida", "739164", in.PhoneToken})
	require.NoError(t, err)

	e, err := readEntry([]byte(c.text(`SELECT body FROM entry ORDER BY seq DESC LIMIT 1`)))
	require.NoError(t, err)
	require.Equal(t, c.ida, e.By, "she set it herself")
	c.verified()
}

func TestRedeemWhereThereIsNoEnrolledPhone(t *testing.T) {
	c := newClinic(t)
	code, err := c.ResetSecret(ctx, c.by(), c.ida, "")
	require.NoError(t, err)
	in, err := c.RedeemSecret(ctx, code, "739164", newToken())
	require.NoError(t, err)
	require.Empty(t, in.Token, "the secret is set, but this browser may not sign in")
	require.Empty(t, in.PhoneToken)
	require.Equal(t, "", c.try("ida", "739164"))
	require.Zero(t, c.count(`SELECT count(*) FROM phone_token WHERE phone <> ?`, c.phone.ID))

	code, err = c.ResetSecret(ctx, c.by(), c.ida, "Ida's phone")
	require.NoError(t, err)
	id := c.text(`SELECT phone FROM one_time WHERE person = ?`, c.ida)
	c.do(reprocess.RevokePhone{Phone: id, Reason: "changed my mind"})
	in, err = c.RedeemSecret(ctx, code, "739164", "")
	require.NoError(t, err)
	require.Empty(t, in.Token, "the phone was ended before the code was used")
	require.Empty(t, in.PhoneToken)
}

func TestTheNewestResetCounts(t *testing.T) {
	c := newClinic(t)
	olga := c.person("Olga", "olga", reprocess.RoleRelease)
	other, err := c.ResetSecret(ctx, c.by(), olga, "")
	require.NoError(t, err)
	old, err := c.ResetSecret(ctx, c.by(), c.ida, "")
	require.NoError(t, err)
	code, err := c.ResetSecret(ctx, c.by(), c.ida, "")
	require.NoError(t, err)
	_, err = c.RedeemSecret(ctx, old, "739164", "")
	require.Equal(t, "code", rule(err))
	_, err = c.RedeemSecret(ctx, code, "739164", "")
	require.NoError(t, err)
	_, err = c.RedeemSecret(ctx, other, "739164", "")
	require.NoError(t, err, "codes of others stay")
}

func TestWhoMayNotReset(t *testing.T) {
	c := newClinic(t)
	p, err := c.personBy(ctx, `id = ?`, c.ida)
	require.NoError(t, err)
	_, err = c.ResetSecret(ctx, By{Actor: reprocess.Actor{Person: p}}, "S1", "")
	require.Equal(t, "role", rule(err))
	unsigned := c.by()
	unsigned.Actor.Signed = false
	_, err = c.ResetSecret(ctx, unsigned, c.ida, "")
	require.Equal(t, "signature", rule(err))
	_, err = c.ResetSecret(ctx, c.by(), "S1", "")
	require.Equal(t, "own_reset", rule(err))
	_, err = c.ResetSecret(ctx, c.by(), c.ida, "Office")
	require.Equal(t, "phone_name", rule(err))
	require.Zero(t, c.count(`SELECT count(*) FROM one_time`))
	require.Equal(t, "", c.try("ida", idaSecret), "a refused reset ends nothing")
	require.Equal(t, "own_secret", rule(c.GiveSecret(ctx, c.ida, "739164")))
	require.Equal(t, "unknown", rule(c.GiveSecret(ctx, "S99", "739164")))
}

func TestChangeSecret(t *testing.T) {
	c := newClinic(t)
	was := c.plant(c.ida)
	s, err := c.SessionOf(ctx, was, false)
	require.NoError(t, err)
	by := By{Actor: s.Actor(false), Key: "k1"}
	_, err = c.ChangeSecret(ctx, by, "000001", "739164")
	require.Equal(t, "wrong_secret", rule(err))
	_, err = c.ChangeSecret(ctx, by, idaSecret, "111111")
	require.Equal(t, "weak_secret", rule(err))
	require.Equal(t, "", c.look(was, false))
	token, err := c.ChangeSecret(ctx, by, idaSecret, "739164")
	require.NoError(t, err)
	require.Equal(t, "signed_out", c.look(was, false))
	require.Equal(t, "", c.look(token, false))
	require.Equal(t, "wrong_secret", c.try("ida", idaSecret))
	_, err = c.ChangeSecret(ctx, By{}, idaSecret, "739164")
	require.Equal(t, "nobody", rule(err))
	c.verified()
}

func TestPhones(t *testing.T) {
	c := newClinic(t)
	by := c.by()
	by.Key = "form-1"
	token, err := c.EnrolThisPhone(ctx, by, "Bench 1")
	require.NoError(t, err)
	phone, err := c.PhoneOf(ctx, token)
	require.NoError(t, err)
	require.Equal(t, "Bench 1", phone.Name)
	_, err = c.EnrolThisPhone(ctx, by, "Bench 1")
	require.Equal(t, "done_before", rule(err), "the same form twice")
	require.Equal(t, 2, c.count(`SELECT count(*) FROM phone`))

	code, err := c.InvitePhone(ctx, c.by(), "Desk")
	require.NoError(t, err)
	second, err := c.InvitePhone(ctx, c.by(), "Desk 2")
	require.NoError(t, err)
	desk, err := c.RedeemPhone(ctx, code)
	require.NoError(t, err)
	_, err = c.RedeemPhone(ctx, code)
	require.Equal(t, "code", rule(err))
	_, err = c.RedeemPhone(ctx, "nonsense")
	require.Equal(t, "code", rule(err))
	_, err = c.RedeemPhone(ctx, second)
	require.NoError(t, err, "two invitations stand side by side")
	_, _, err = c.SignIn(ctx, SignInRequest{"ida", idaSecret, desk})
	require.NoError(t, err)

	c.do(reprocess.RevokePhone{Phone: phone.ID, Reason: "lost"})
	_, err = c.PhoneOf(ctx, token)
	require.Equal(t, "phone_ended", rule(err))
	_, _, err = c.SignIn(ctx, SignInRequest{"ida", idaSecret, token})
	require.Equal(t, "phone_ended", rule(err))
	require.Equal(t, "phone_ended", rule(c.RevokePhone(ctx, c.by(), phone.ID, "lost")))

	third, err := c.InvitePhone(ctx, c.by(), "Desk 3")
	require.NoError(t, err)
	id := c.text(`SELECT phone FROM one_time WHERE kind = 'phone'`)
	require.NoError(t, c.RevokePhone(ctx, c.by(), id, "not needed"))
	_, err = c.RedeemPhone(ctx, third)
	require.Equal(t, "code", rule(err), "ending a phone ends its code")
	c.verified()
}

// A refusal is an entry too, and leaves nothing beside it.
func TestRefusedEnrolmentLeavesNoToken(t *testing.T) {
	c := newClinic(t)
	_, err := c.EnrolThisPhone(ctx, c.by(), "office")
	require.Equal(t, "phone_name", rule(err))
	_, err = c.InvitePhone(ctx, c.by(), "OFFICE")
	require.Equal(t, "phone_name", rule(err))
	require.Equal(t, 1, c.count(`SELECT count(*) FROM phone_token`))
	require.Zero(t, c.count(`SELECT count(*) FROM one_time`))
	require.Equal(t, 2, c.count(`SELECT count(*) FROM act WHERE rule = 'phone_name'`))
}

// Of two who use a code at once one wins, and the other leaves no entry behind.
func TestOneCodeUsedTwiceAtOnce(t *testing.T) {
	c := newClinic(t)
	code, err := c.ResetSecret(ctx, c.by(), c.ida, "")
	require.NoError(t, err)
	before := c.count(`SELECT count(*) FROM entry`)
	rules := make(chan string, 4)
	for _, secret := range []string{"739164", "739165", "739168", "739169"} {
		go func() {
			_, err := c.RedeemSecret(ctx, code, secret, "")
			rules <- rule(err)
		}()
	}
	won := 0
	for range cap(rules) {
		if r := <-rules; r == "" {
			won++
		} else {
			require.Equal(t, "code", r)
		}
	}
	require.Equal(t, 1, won)
	require.Equal(t, before+1, c.count(`SELECT count(*) FROM entry`))
	c.verified()
}
