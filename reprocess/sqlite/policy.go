package sqlite

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"handback/reprocess"
)

// Lengths of secrets in characters. A PIN only ever counts together with an enrolled phone;
// who may change rules or read everything needs a password (OWASP ASVS 5.0.0, 6.2.1 asks for
// at least 8 and recommends 15; 6.2.9 asks to allow at least 64).
const (
	pinMin      = 6
	passwordMin = 12
	secretMax   = 128
	restMin     = 8 // what has to be left of a secret beside a name of its person
)

// NeedsPassword tells whether a person's roles ask for a password of at least 12 characters
// rather than a PIN.
func NeedsPassword(roles []reprocess.Role) bool {
	p := reprocess.Person{Roles: roles}
	return p.Has(reprocess.RoleSupervisor, reprocess.RoleAuditor)
}

// CheckNewSecret judges a secret somebody wants to set: long enough for the roles, not one of
// the commonest, no repeat, no run, not made of the person's own names.
func CheckNewSecret(secret string, who *reprocess.Person) *reprocess.Problem {
	n := utf8.RuneCountInString(secret)
	digits := strings.Trim(secret, "0123456789") == ""
	switch {
	case !utf8.ValidString(secret) || strings.ContainsFunc(secret, unicode.IsControl):
		return weak("The secret has characters that cannot be typed again.",
			"Use letters, digits, spaces and signs.")
	case n > secretMax:
		return weak("The secret is longer than 128 characters.", "Choose a shorter one.")
	case NeedsPassword(who.Roles) && n < passwordMin:
		return weak("Supervisors and auditors need a password of at least 12 characters.",
			"Choose a longer one; several words are easy to remember.")
	case digits && n < pinMin:
		return weak("A PIN needs at least 6 digits.", "Choose a longer one.")
	case !digits && n < passwordMin:
		return weak("A password needs at least 12 characters; only a PIN of digits can be shorter.",
			"Choose a longer password, or a PIN of at least 6 digits.")
	case guessable(secret, who):
		return weak("This secret is among the first that somebody would try.",
			"Choose one without runs, repeats, names and common patterns.")
	}
	return nil
}

func weak(text, fix string) *reprocess.Problem {
	return &reprocess.Problem{Code: reprocess.Invalid, Rule: "weak_secret", Text: text, Fix: fix}
}

func guessable(secret string, who *reprocess.Person) bool {
	low := strings.ToLower(secret)
	return commonest[low] || repeats(low) || stepped(low) || mirrored(low) ||
		fewSigns(low) || commonWord(low) || namesOf(who, low)
}

// repeats: the same block again and again, whole or cut, such as 111111, 1212121, abcabcabc.
func repeats(s string) bool {
	for p := 1; p <= len(s)/2; p++ {
		same := true
		for i := p; i < len(s) && same; i++ {
			same = s[i] == s[i-p]
		}
		if same {
			return true
		}
	}
	return false
}

// stepped: every sign is the same step from the one before, such as 123456, 987654, 890123
// (digits count round from 9 to 0) or abcdefghijkl.
func stepped(s string) bool {
	if len(s) < 3 {
		return true
	}
	digits := strings.Trim(s, "0123456789") == ""
	for i := 2; i < len(s); i++ {
		d := (int(s[i]) - int(s[i-1])) - (int(s[1]) - int(s[0]))
		if d != 0 && (!digits || d%10 != 0) {
			return false
		}
	}
	return true
}

// mirrored: the same read backwards, such as 123321.
func mirrored(s string) bool {
	for i := range len(s) / 2 {
		if s[i] != s[len(s)-1-i] {
			return false
		}
	}
	return true
}

// fewSigns: two different signs in a PIN, or fewer than five in anything longer.
func fewSigns(s string) bool {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen) <= 2 || len(s) >= passwordMin && len(seen) < 5
}

// commonWord: a word everybody tries, alone or with digits and signs around it.
func commonWord(s string) bool {
	core := strings.TrimFunc(s, func(r rune) bool { return !unicode.IsLetter(r) })
	return commonWords[core] || commonWords[repeatedBlock(core)]
}

// repeatedBlock gives the shortest block that a text is made of by repeating it.
func repeatedBlock(s string) string {
	for p := 1; p <= len(s)/2; p++ {
		if len(s)%p == 0 && strings.Repeat(s[:p], len(s)/p) == s {
			return s[:p]
		}
	}
	return s
}

// namesOf: made of the person's own sign-in name or name, or a PIN that stands in them.
func namesOf(who *reprocess.Person, s string) bool {
	for _, name := range append(strings.Fields(strings.ToLower(who.Name)),
		strings.ToLower(who.SignIn)) {
		if len(name) >= 4 && strings.Contains(s, name) && len(s)-len(name) < restMin {
			return true
		}
		if strings.Contains(name, s) {
			return true
		}
	}
	return false
}

func setOf(words string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// commonest lists what the rules above let through and people choose most: digits in the order
// of a published count over ten million leaked passwords (xato.net, 2015, first 2000 rows),
// keypad paths and dates among them, then keyboard walks of 12 and more signs.
var commonest = setOf(`
	159753 112233 123654 789456 159357 102030 147258 111222 147852 123789 852456 134679
	124578 142536 741852 456123 246810 135790 753951 951753 321654 141627 314159 112358
	121314 010203 456852 315475 123098 963852 258456 369258 258369 147369 258963 852963
	963258 741963 159263 321456 654123 789123 123987 321987 456321 654789 987321 112211
	101112 131415 111213 123455 123465 112345 122333 199200 200000 100000 123000 001122
	11223344 8675309 147258369 789456123 123654789 147852369 741852963 1029384756 31415926
	11235813 123698745 14789632 147896325 1123581321 192837465 7895123 1478963 4815162342
	12345678910 01011980 01011990 01012000 01012010 01012011 111222333 12345678901 1234567890123
	123321123 112233445566 123123456456 102030405060 147258369147 010203040506
	1q2w3e4r5t6y q1w2e3r4t5y6 1qaz2wsx3edc 123qweasdzxc qwertyuiopas qwertyasdfgh
	asdfghjkl123 zaq12wsxcde3 1qaz2wsx3edc4rfv qweasdzxc123 qazwsxedcrfv 1q2w3e4r5t6y7u
	qwertyuiop12 qwertyuiop123 qwerty123456 123456qwerty abcd12345678 abc123456789
`)

// commonWords are words of the same count that people lengthen with digits.
var commonWords = setOf(`
	password passwort passw0rd p@ssword letmein welcome iloveyou admin administrator qwerty
	qwertz qwertyuiop qwertzuiop azerty asdfghjkl zxcvbnm changeme secret supervisor master
	dragon monkey football baseball basketball sunshine princess superman michael trustno
	whatever computer internet starwars liverpool mypassword newpassword thepassword hospital
	clinic release default
`)
