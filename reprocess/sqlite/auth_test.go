package sqlite

import (
	"bytes"
	"context"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

var ctx = context.Background()

// The invented secrets of these tests.
const (
	mariaSecret = "kelp tidal 7"
	idaSecret   = "482915"
)

// clinic is a site that was set up in the browser: Maria supervises, Ida cleans.
type clinic struct {
	testing.TB
	*Store
	dir   string
	clock *clock
	log   *bytes.Buffer
	maria *SignedIn
	phone *reprocess.EnrolledPhone // Maria's
	ida   string                   // person id
}

// The folder is made once and copied: setting secrets takes its time.
func newClinic(t testing.TB) *clinic {
	t.Helper()
	made.Lock()
	defer made.Unlock()
	if made.files == nil {
		made.clinic = setUpClinic(t)
		made.files = readFolder(t, made.clinic.dir)
	}
	c := &clinic{TB: t, dir: t.TempDir(), clock: newClock(), log: new(bytes.Buffer),
		maria: made.clinic.maria, phone: made.clinic.phone, ida: made.clinic.ida}
	for name, content := range made.files {
		path := filepath.Join(c.dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, content, 0o600))
	}
	c.reopen()
	return c
}

var made struct {
	sync.Mutex
	clinic *clinic
	files  map[string][]byte
}

func readFolder(t testing.TB, dir string) map[string][]byte {
	files := map[string][]byte{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		files[name], err = os.ReadFile(path)
		return err
	}))
	return files
}

func setUpClinic(t testing.TB) *clinic {
	t.Helper()
	c := &clinic{TB: t, dir: t.TempDir(), clock: newClock(), log: new(bytes.Buffer)}
	c.reopen()
	code, err := c.FirstCode(ctx)
	require.NoError(t, err)
	c.maria, err = c.CreateFirst(ctx, FirstRequest{Code: code, Name: "Maria Castellano",
		SignIn: "maria", Secret: mariaSecret, PhoneName: "Office"})
	require.NoError(t, err)
	c.phone, err = c.PhoneOf(ctx, c.maria.PhoneToken)
	require.NoError(t, err)
	c.ida = c.person("Ida Lund", "ida", reprocess.RoleReprocessing)
	require.NoError(t, c.GiveSecret(ctx, c.ida, idaSecret))
	require.NoError(t, c.Store.Close())
	return c
}

func (c *clinic) reopen() {
	c.Helper()
	if c.Store != nil {
		require.NoError(c, c.Store.Close())
	}
	var err error
	c.Store, err = Open(c.dir, Options{Clock: c.clock.now, Site: "Main building",
		HashKiB: 64, Log: slog.New(slog.NewTextHandler(c.log, nil))})
	require.NoError(c, err)
	s := c.Store
	c.Cleanup(func() { require.NoError(c, s.Close()) })
}

// by is Maria acting.
func (c *clinic) by() By {
	return By{Actor: reprocess.Actor{Person: c.maria.Person, Phone: c.phone.ID, Signed: true}}
}

func (c *clinic) do(cmd reprocess.Command) *reprocess.Entry {
	c.Helper()
	e, err := c.Do(ctx, Request{Cmd: cmd, Actor: c.by().Actor})
	require.NoError(c, err)
	return e
}

func (c *clinic) person(name, signIn string, roles ...reprocess.Role) string {
	c.Helper()
	e := c.do(reprocess.SetPerson{Person: reprocess.Person{Name: name, SignIn: signIn, Roles: roles}})
	return e.Events[0].Event.(reprocess.PersonSet).ID
}

// try signs in on Maria's phone and gives the rule of the refusal.
func (c *clinic) try(name, secret string) string {
	c.Helper()
	_, _, err := c.SignIn(ctx, SignInRequest{name, secret, c.maria.PhoneToken})
	return rule(err)
}

func rule(err error) string {
	if err == nil {
		return ""
	}
	return reprocess.AsProblem(err).Rule
}

// set changes rows of sign-in directly, as somebody with the database file could.
func (c *clinic) set(query string, args ...any) {
	c.Helper()
	_, err := c.writeDB.Exec(query, args...)
	require.NoError(c, err)
}

func (c *clinic) count(query string, args ...any) (n int) {
	c.Helper()
	require.NoError(c, c.read.QueryRow(query, args...).Scan(&n))
	return n
}

func (c *clinic) verified() {
	c.Helper()
	require.NoError(c, c.Store.Close())
	r, err := Verify(ctx, c.dir, VerifyOptions{})
	require.NoError(c, err)
	require.Empty(c, r.Difference)
}

func TestSetUpSignInAndOut(t *testing.T) {
	c := newClinic(t)
	require.Equal(t, reprocess.FirstSupervisorID, c.maria.Person.ID)
	first, err := c.SessionOf(ctx, c.maria.Token, false)
	require.NoError(t, err)
	require.Equal(t, "Maria Castellano", first.Person.Name)
	require.Equal(t, "Office", c.phone.Name)

	token, p, err := c.SignIn(ctx, SignInRequest{" Ida ", idaSecret, c.maria.PhoneToken})
	require.NoError(t, err)
	require.Equal(t, c.ida, p.ID)
	require.NotEqual(t, c.maria.Token, token)
	session, err := c.SessionOf(ctx, token, false)
	require.NoError(t, err)
	require.Equal(t, reprocess.Actor{Person: session.Person, Phone: c.phone.ID, Signed: true},
		session.Actor(true))
	require.False(t, session.Actor(false).Signed)
	_, err = c.SessionOf(ctx, c.maria.Token, false)
	require.Equal(t, "signed_out", rule(err), "the next person on a phone ends the session before")

	require.NoError(t, c.CheckSecret(ctx, c.ida, idaSecret, c.phone.ID))
	require.Equal(t, "wrong_secret", rule(c.CheckSecret(ctx, c.ida, "482916", c.phone.ID)))
	require.Equal(t, "wrong_secret", rule(c.CheckSecret(ctx, c.ida, mariaSecret, c.phone.ID)))
	require.Equal(t, "nobody", rule(c.CheckSecret(ctx, "S99", idaSecret, c.phone.ID)))

	require.NoError(t, c.SignOut(ctx, token))
	require.NoError(t, c.SignOut(ctx, token))
	require.NoError(t, c.SignOut(ctx, "no token"))
	_, err = c.SessionOf(ctx, token, true)
	require.Equal(t, "signed_out", rule(err))
	c.verified()
}

// A name nobody has, a wrong secret, somebody without a secret and somebody who left get the
// same answer, and the same waits (OWASP ASVS 5.0.0 6.3.8).
func TestTheAnswerTellsNothingAboutNames(t *testing.T) {
	c := newClinic(t)
	c.person("Olga", "olga", reprocess.RoleRelease)
	bo := c.person("Bo", "bo", reprocess.RoleRelease)
	require.NoError(t, c.GiveSecret(ctx, bo, "739164"))
	c.do(reprocess.SetPerson{Person: reprocess.Person{ID: bo, Name: "Bo", SignIn: "bo",
		Roles: []reprocess.Role{reprocess.RoleRelease}, Left: "2026-11-23"}})
	var answers [][]string
	for _, r := range []SignInRequest{{"ida", "482916", ""}, {"nobody", "482916", ""},
		{"olga", "739164", ""}, {"bo", "739164", ""}} {
		c.set(`DELETE FROM phone_guess`)
		r.PhoneToken = c.maria.PhoneToken
		var said []string
		for range freeTries + 1 {
			_, _, err := c.SignIn(ctx, r)
			p := reprocess.AsProblem(err)
			said = append(said, string(p.Code)+" "+p.Rule+" "+p.Error())
		}
		answers = append(answers, said)
	}
	for _, other := range answers[1:] {
		require.Equal(t, answers[0], other)
	}
	require.Equal(t, []string{
		"forbidden wrong_secret The name or the secret is not right. Try again.",
		"forbidden wrong_secret The name or the secret is not right. " +
			"Wait 30 seconds before the next try.",
		"unavailable wait Too many wrong secrets in a row. " +
			"Wait 30 seconds and try again, or ask a supervisor.",
	}, answers[0][3:])
	cost := regexp.MustCompile(`^\$argon2id\$v=19\$m=[0-9]+,t=1,p=1\$`)
	dummy, real := c.dummySecret(), ""
	require.NoError(t, func() error { _, err := parsePHC(dummy); return err }())
	require.NoError(t, c.read.QueryRow(`SELECT phc FROM secret LIMIT 1`).Scan(&real))
	require.Equal(t, cost.FindString(real), cost.FindString(dummy), "equal work")

	locked, err := c.LockedOut(ctx)
	require.NoError(t, err)
	require.Len(t, locked, 3, "names that nobody has are not listed")
	require.Equal(t, freeTries, locked[0].Failed)
}

// Without the option of tests a new hash and the dummy have the cost of ASVS 5.0.0 appendix C.
func TestSecretsCostWhatTheyShould(t *testing.T) {
	s := newBench(t).Store
	stored, err := s.pepper().hash(context.Background(), s.opts.HashKiB, "482915")
	require.NoError(t, err)
	for _, h := range []string{stored, s.dummySecret()} {
		require.True(t, strings.HasPrefix(h, "$argon2id$v=19$m=47104,t=1,p=1$"), h)
	}
}

// The ladder of waits is the project's own choice within NIST SP 800-63B (at most 100 failures
// in a row, waits of 30 s up to an hour): common practice.
func TestTheLadderOfWaits(t *testing.T) {
	c := newClinic(t)
	for range freeTries {
		require.Equal(t, "wrong_secret", c.try("ida", "000001"))
	}
	for i, wait := range []time.Duration{30 * time.Second, 2 * time.Minute, 10 * time.Minute,
		time.Hour, time.Hour} {
		require.Equal(t, "wait", c.try("ida", idaSecret), "even the right one waits")
		c.clock.pass(wait - time.Millisecond)
		require.Equal(t, "wait", c.try("ida", idaSecret))
		require.Equal(t, freeTries+i, c.count(`SELECT failed FROM guess WHERE who = ?`, c.ida),
			"a try that is too soon is not counted")
		c.clock.pass(time.Millisecond)
		require.Equal(t, "wrong_secret", c.try("ida", "000001"), wait)
	}
	require.Equal(t, "", c.try("maria", mariaSecret), "others are not locked out")
	c.clock.pass(time.Hour)
	require.Equal(t, "", c.try("ida", idaSecret))
	require.Zero(t, c.count(`SELECT count(*) FROM guess`), "the right one forgives all")
	for n, want := range map[int]time.Duration{0: 0, 4: 0, 5: 30 * time.Second, 8: time.Hour,
		99: time.Hour} {
		require.Equal(t, want, waitAfter(n), n)
	}
}

func TestAHundredWrongSecretsCloseTheName(t *testing.T) {
	c := newClinic(t)
	c.set(`INSERT INTO guess (who, failed, wait_until, last) VALUES (?, 98, 0, 0)`, c.ida)
	require.Equal(t, "wrong_secret", c.try("ida", "000001"))
	c.clock.pass(time.Hour)
	require.Equal(t, "wrong_secret", c.try("ida", "000001"), "the hundredth")
	c.clock.pass(1000 * time.Hour)
	require.Equal(t, "locked_out", c.try("ida", idaSecret))
	require.Equal(t, "locked_out", rule(c.CheckSecret(ctx, c.ida, idaSecret, c.phone.ID)))

	code, err := c.ResetSecret(ctx, c.by(), c.ida, "")
	require.NoError(t, err)
	require.Equal(t, "wrong_secret", c.try("ida", idaSecret), "a reset ends the secret")
	in, err := c.RedeemSecret(ctx, code, "739164", c.maria.PhoneToken)
	require.NoError(t, err)
	require.NotEmpty(t, in.Token)
	require.Equal(t, "", c.try("ida", "739164"))
	c.verified()
}

// Twenty wrong secrets per phone and hour, whatever the names (common practice).
func TestOnePhoneGetsTwentyWrongSecretsAnHour(t *testing.T) {
	c := newClinic(t)
	start := c.clock.now().UTC
	for i := range phoneTries - 1 {
		c.set(`INSERT INTO phone_guess (phone, at) VALUES (?, ?)`, c.phone.ID,
			start.Add(time.Duration(i)*time.Minute))
	}
	c.clock.pass(20 * time.Minute)
	require.Equal(t, "", c.try("ida", idaSecret), "nineteen leave one")
	require.Equal(t, "wrong_secret", c.try("nobody", "000001"), "the twentieth")
	_, _, err := c.SignIn(ctx, SignInRequest{"maria", mariaSecret, c.maria.PhoneToken})
	require.Equal(t, "wait", rule(err))
	require.Contains(t, err.Error(), "on this phone")
	require.Contains(t, err.Error(), "40 minutes")
	require.NoError(t, c.CheckSecret(ctx, c.ida, idaSecret, "T0"), "another phone is free")
	c.clock.pass(40*time.Minute - time.Millisecond)
	require.Equal(t, "wait", c.try("maria", mariaSecret))
	c.clock.pass(time.Millisecond)
	require.Equal(t, "", c.try("maria", mariaSecret), "an hour after the oldest")
}

// Setting the clock back blocks nobody for longer than the longest wait.
func TestWaitsAfterTheClockWasSetBack(t *testing.T) {
	c := newClinic(t)
	now := c.clock.now().UTC
	for _, w := range []struct {
		until reprocess.Instant
		rule  string
	}{{now + 1, "wait"}, {now + guessHour, "wait"}, {now + guessHour + 1, ""}, {now, ""}} {
		c.set(`INSERT INTO guess (who, failed, wait_until, last) VALUES (?, 7, ?, 0)
			ON CONFLICT DO UPDATE SET failed = 7, wait_until = excluded.wait_until`, c.ida, w.until)
		require.Equal(t, w.rule, c.try("ida", idaSecret), w.until-now)
	}
}

// Many tries at once do not slip past the limit: each is counted before it is checked.
func TestManyTriesAtOnce(t *testing.T) {
	c := newClinic(t)
	var wg sync.WaitGroup
	rules := make([]string, 12)
	for i := range rules {
		wg.Go(func() {
			rules[i] = rule(c.CheckSecret(ctx, c.ida, "000001", c.phone.ID))
		})
	}
	wg.Wait()
	wrong := 0
	for _, r := range rules {
		if r == "wrong_secret" {
			wrong++
		} else {
			require.Equal(t, "wait", r)
		}
	}
	require.Equal(t, freeTries, wrong)
}

// Whoever can write the database cannot sign: not with another person's hash, not with one of
// their own making, not by touching the HMAC as well.
func TestASwappedHashDoesNotSign(t *testing.T) {
	c := newClinic(t)
	var idas, marias, marac string
	require.NoError(t, c.read.QueryRow(`SELECT phc FROM secret WHERE person = ?`, c.ida).Scan(&idas))
	require.NoError(t, c.read.QueryRow(`SELECT phc FROM secret WHERE person = 'S1'`).Scan(&marias))
	require.NoError(t, c.read.QueryRow(`SELECT doc FROM secret_mac WHERE id = 'S1'`).Scan(&marac))
	forged, err := new(pepper).hash(ctx, argonKiB, "123456789 forged")
	require.NoError(t, err)
	sign := func(secret string) string {
		c.set(`DELETE FROM guess`)
		return rule(c.CheckSecret(ctx, c.ida, secret, c.phone.ID))
	}
	require.Equal(t, "", sign(idaSecret))
	c.set(`UPDATE secret SET phc = ? WHERE person = ?`, marias, c.ida)
	require.Equal(t, "secret_swapped", sign(mariaSecret))
	require.Equal(t, "wrong_secret", sign(idaSecret))
	require.Contains(t, c.log.String(), "a stored hash is not the one in the ledger")
	c.set(`UPDATE secret_mac SET doc = ? WHERE id = ?`, marac, c.ida)
	require.Equal(t, "secret_swapped", sign(mariaSecret), "the HMAC is bound to the person")
	c.set(`UPDATE secret SET phc = ? WHERE person = ?`, forged, c.ida)
	require.Equal(t, "wrong_secret", sign("123456789 forged"), "a hash needs the pepper")
	c.set(`UPDATE secret SET phc = 'nonsense' WHERE person = ?`, c.ida)
	require.Equal(t, "wrong_secret", sign(idaSecret))
	require.Contains(t, c.log.String(), "a stored hash is damaged")
	c.set(`UPDATE secret SET phc = ? WHERE person = ?`, idas, c.ida)
	require.Equal(t, "secret_swapped", sign(idaSecret))
	c.set(`UPDATE secret_mac SET doc = '""' WHERE id = ?`, c.ida)
	require.Equal(t, "wrong_secret", sign(idaSecret), "no HMAC, no signature")
}

func TestMoreRolesAskForALongerSecret(t *testing.T) {
	c := newClinic(t)
	c.do(reprocess.SetPerson{Person: reprocess.Person{ID: c.ida, Name: "Ida Lund", SignIn: "ida",
		Roles: []reprocess.Role{reprocess.RoleReprocessing, reprocess.RoleAuditor}}})
	require.Equal(t, "secret_short", c.try("ida", idaSecret))
	require.Equal(t, "wrong_secret", c.try("ida", "482916"))
}

// Only enrolled phones reach the question for a secret.
func TestSignInNeedsAnEnrolledPhone(t *testing.T) {
	c := newClinic(t)
	for _, token := range []string{"", "x", newToken(), c.maria.Token} {
		_, _, err := c.SignIn(ctx, SignInRequest{"ida", idaSecret, token})
		require.Equal(t, "phone_unknown", rule(err))
	}
	require.Zero(t, c.count(`SELECT count(*) FROM guess`), "outsiders lock nobody out")
	require.NoError(t, c.RevokePhone(ctx, c.by(), c.phone.ID, "lost"))
	_, _, err := c.SignIn(ctx, SignInRequest{"ida", idaSecret, c.maria.PhoneToken})
	require.Equal(t, "phone_unknown", rule(err), "its token is gone")
}

func TestADemonstrationLetsAnyBrowserIn(t *testing.T) {
	c := newClinic(t)
	planted, hash := newToken(), []byte(nil)
	hash, _ = tokenHash(planted)
	c.set(`INSERT INTO session (hash, person, phone, secret, started, seen)
		SELECT ?, person, '', secret, started, seen FROM session`, hash)
	_, err := c.SessionOf(ctx, planted, false)
	require.Equal(t, "phone_ended", rule(err), "at a real site a session is on a phone")

	_, err = c.Do(ctx, Request{Actor: reprocess.Console(), Cmd: reprocess.SetSettings{
		Settings: reprocess.Settings{Site: "Main building", Zone: "UTC", Demo: true}}})
	require.NoError(t, err)
	token, _, err := c.SignIn(ctx, SignInRequest{"ida", idaSecret, ""})
	require.NoError(t, err)
	s, err := c.SessionOf(ctx, token, false)
	require.NoError(t, err)
	require.Empty(t, s.Phone)
}

// Nothing secret in clear stands in the database, its write-ahead log or the program's log.
func TestNothingSecretIsKeptInClear(t *testing.T) {
	c := newClinic(t)
	code, err := c.ResetSecret(ctx, c.by(), c.ida, "Ida's phone")
	require.NoError(t, err)
	in, err := c.RedeemSecret(ctx, code, "739164 739 x", "")
	require.NoError(t, err)
	require.Equal(t, "wrong_secret", c.try("ida", "739164 739 y"))
	raw, err := os.ReadFile(filepath.Join(c.dir, secretsName, pepperFile))
	require.NoError(t, err)
	letters, _ := foldCode(code)
	files := []string{c.log.String()}
	for _, name := range []string{ledgerName, ledgerName + "-wal", wearersName} {
		b, err := os.ReadFile(filepath.Join(c.dir, name))
		require.NoError(t, err)
		files = append(files, string(b))
	}
	require.Contains(t, files[2], "argon2id", "the file that is searched is the right one")
	for _, secret := range []string{mariaSecret, "739164 739 x", "739164 739 y", in.Token,
		in.PhoneToken, c.maria.Token, code, letters, strings.TrimSpace(string(raw)),
		string(c.secrets.pepper)} {
		for _, file := range files {
			require.False(t, strings.Contains(file, secret))
		}
	}
}

func BenchmarkCheckSecret(b *testing.B) {
	c := newClinic(b)
	for b.Loop() {
		require.NoError(b, c.CheckSecret(ctx, c.ida, idaSecret, c.phone.ID))
	}
}

func BenchmarkSessionOf(b *testing.B) {
	c := newClinic(b)
	for b.Loop() {
		_, err := c.SessionOf(ctx, c.maria.Token, false)
		require.NoError(b, err)
	}
}

// Names that nobody has are counted for a day and then forgotten; people's counts stay.
func TestCountsOfUnknownNamesAreForgotten(t *testing.T) {
	c := newClinic(t)
	require.Equal(t, "wrong_secret", c.try("nobody", "000001"))
	require.Equal(t, "wrong_secret", c.try("ida", "000001"))
	require.Equal(t, 1, c.count(`SELECT count(*) FROM guess WHERE who LIKE '?%'`))
	c.clock.pass(24*time.Hour - time.Millisecond)
	require.Equal(t, "wrong_secret", c.try("ida", "000001"))
	require.Equal(t, 1, c.count(`SELECT count(*) FROM guess WHERE who LIKE '?%'`))
	c.clock.pass(time.Millisecond)
	require.Equal(t, "wrong_secret", c.try("ida", "000001"))
	require.Zero(t, c.count(`SELECT count(*) FROM guess WHERE who LIKE '?%'`))
	require.Equal(t, 3, c.count(`SELECT failed FROM guess WHERE who = ?`, c.ida))
	require.Equal(t, 2, c.count(`SELECT count(*) FROM phone_guess`), "those of the last hour")
}

// A pepper of another folder opens nothing: the stored hashes are useless without their own.
func TestWithoutItsPepperADatabaseSaysNothing(t *testing.T) {
	c := newClinic(t)
	path := filepath.Join(c.dir, secretsName, pepperFile)
	other := strings.Repeat("ab", 32) + "\n"
	require.NoError(t, os.WriteFile(path, []byte(other), 0o600))
	c.reopen()
	require.Equal(t, "wrong_secret", c.try("ida", idaSecret))
	require.NoError(t, c.Store.Close())
	require.NoError(t, os.Remove(path))
	_, err := Open(c.dir, Options{Clock: c.clock.now})
	require.Equal(t, reprocess.Unavailable, reprocess.AsProblem(err).Code, "none is made anew")
	_, err = os.Stat(path)
	require.ErrorIs(t, err, fs.ErrNotExist)
}
