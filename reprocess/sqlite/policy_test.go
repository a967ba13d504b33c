package sqlite

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

var (
	cleaner = &reprocess.Person{ID: "S2", Name: "Ida Lund", SignIn: "ida",
		Roles: []reprocess.Role{reprocess.RoleReprocessing}}
	boss = &reprocess.Person{ID: "S1", Name: "Maria Castellano", SignIn: "mcastellano",
		Roles: []reprocess.Role{reprocess.RoleReprocessing, reprocess.RoleSupervisor}}
	auditor = &reprocess.Person{ID: "S3", Name: "Bo", SignIn: "bo",
		Roles: []reprocess.Role{reprocess.RoleAuditor}}
)

// The first numbers of a published count over ten million leaked passwords (xato.net, 2015,
// as kept in the SecLists collection), six digits and more, in order of frequency.
const leaked = `123456 12345678 123456789 111111 1234567 123123 696969 666666 123321 1234567890
	654321 7777777 121212 000000 112233 555555 11111111 131313 777777 159753 987654321 222222
	88888888 123123123 123654 987654 999999 333333 232323 888888 87654321 12344321 8675309
	159357 789456 101010 12341234 444444 1111111 212121 4815162342 69696969 01012011 102030
	252525 11223344 315475 789456123 007007 12121212 147258369 0987654321 111222 147147 147258
	010203 147852 420420 242424 123789 1234554321 098765 98765432 55555555 141414 77777777
	00000000 7654321 202020 852456 159951 123654789 134679 741852963 1111111111 151515
	147852369 456789 99999999 01011980 22222222 1029384756 124578 135790 010101 171717 142536
	454545 323232 741852 456123 666999 321321 246810 753951 31415926 999999999 314159 181818
	12345678910 321654 141627 13131313 456456 565656 272727 1478963 0123456789 343434 66666666
	363636 951753 51505150 11235813 191919 123454321 1234321 14789632 424242 911911 112358
	1123581321 5555555 555666 7895123 909090 44444444 121314 787878 111222333 012345 090909
	505050 159159 789789 456852 262626 147896325 123321123 123098 192837465 25802580 123698745
	1234512345`

func TestTheCommonestPINsAreRefused(t *testing.T) {
	pins := strings.Fields(leaked)
	require.Greater(t, len(pins), 100)
	for _, pin := range pins {
		p := CheckNewSecret(pin, cleaner)
		require.NotNil(t, p, pin)
		require.Equal(t, "weak_secret", p.Rule)
		require.Equal(t, reprocess.Invalid, p.Code)
		require.NotContains(t, p.Error(), pin, "a sentence never repeats the secret")
	}
}

// Lengths: OWASP ASVS 5.0.0 6.2.1 and common practice; 6 digits only with an enrolled phone.
func TestSecretBoundaries(t *testing.T) {
	for _, c := range []struct {
		secret string
		who    *reprocess.Person
		ok     bool
	}{
		{"48291", cleaner, false}, {"482915", cleaner, true}, {"4829157", cleaner, true},
		{"48291５", cleaner, false}, // a full-width digit is no digit
		{"48291a", cleaner, false},
		{"kelp tidal.", cleaner, false}, {"kelp tidal 7", cleaner, true},
		{"kelp tidæl 7", cleaner, true},
		{"482915", boss, false}, {"48291537604", boss, false}, {"482915376043", boss, true},
		{"kelp tidal.", boss, false}, {"kelp tidal 7", boss, true},
		{"482915", auditor, false}, {"kelp tidal 7", auditor, true},
		{"", cleaner, false}, {"", boss, false},
		{"kelp\ttidal 77", cleaner, false}, {"kelp tidal \x00 7", cleaner, false},
		{"kelp tidal \xff 77", cleaner, false},
		{long(128), cleaner, true}, {long(129), cleaner, false},
	} {
		p := CheckNewSecret(c.secret, c.who)
		require.Equal(t, c.ok, p == nil, "%q for %s", c.secret, c.who.Name)
	}
}

func long(n int) string { return strings.Repeat("kelp tidal 7 ", 20)[:n-1] + "q" }

func TestPatternsAreRefused(t *testing.T) {
	for _, weak := range []string{
		"890123", "210987", "135791", "864208", "121212121", "12312312", "458854", "477774",
		"aaaaaaaaaaaa", "abababababab", "abcdefghijkl", "zyxwvutsrqpo", "abcdabcdabcd",
		"abcdabcdabcdx"[:12], "aabbccddaabb", "Password1234", "password!!!!!", "1234PASSWORD",
		"passwordpassword", "Welcome20261", "QwertyUiop12", "1q2w3e4r5t6y", "supervisor123",
		"Castellano12", "mcastellano1", "Maria2026!!!",
	} {
		require.NotNil(t, CheckNewSecret(weak, boss), weak)
		if len(weak) < passwordMin {
			require.NotNil(t, CheckNewSecret(weak, cleaner), weak)
		}
	}
	badge := &reprocess.Person{SignIn: "u482915", Name: "U"}
	require.NotNil(t, CheckNewSecret("482915", badge), "own badge digits")
	require.Nil(t, CheckNewSecret("482916", badge))
}

func TestMostPINsAreLeft(t *testing.T) {
	refused := 0
	for i := range 1_000_000 {
		if guessable(string([]byte{'0' + byte(i/100000), '0' + byte(i/10000%10),
			'0' + byte(i/1000%10), '0' + byte(i/100%10), '0' + byte(i/10%10), '0' + byte(i%10)}),
			cleaner) {
			refused++
		}
	}
	require.Less(t, refused, 20_000, "the policy must not shrink the choice by more than 2 in 100")
	require.Greater(t, refused, 1000)
}
