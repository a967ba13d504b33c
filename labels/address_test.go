package labels

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAddressForm(t *testing.T) {
	for base, want := range map[string]string{
		"https://host.example":       "https://HOST.EXAMPLE/D/7M2N4P6R8S0T2W5YH",
		"HTTPS://Host.Example/":      "https://HOST.EXAMPLE/D/7M2N4P6R8S0T2W5YH",
		" https://host.example:8443": "https://HOST.EXAMPLE:8443/D/7M2N4P6R8S0T2W5YH",
		"http://192.168.1.20:8080":   "http://192.168.1.20:8080/D/7M2N4P6R8S0T2W5YH",
	} {
		got, err := Address(base, "7M2N4P6R8S0T2W5YH", true)
		require.NoError(t, err, base)
		require.Equal(t, want, got)
		code, kind, err := Read(got)
		require.NoError(t, err)
		require.Equal(t, KindScanned, kind)
		require.Equal(t, Code("7M2N4P6R8S0T2W5YH"), code)
	}
	b, err := ParseBase("https://host.example", false)
	require.NoError(t, err)
	require.True(t, b.Secure())
	require.Equal(t, "https://HOST.EXAMPLE/D/7M2N4P6R8S0T2W5YH", b.Address("7M2N4P6R8S0T2W5YH"))
	_, err = Address("https://host.example", "7M2N4P6R8S0T2W5YJ", false)
	require.ErrorContains(t, err, "check letter")
}

func TestBaseRefuses(t *testing.T) {
	for base, says := range map[string]string{
		"":                            "not an address",
		"host.example":                "not an address",
		"ftp://host.example":          "must begin with https",
		"http://host.example":         "need https",
		"https://host.example/app":    "more than scheme and host",
		"https://host.example/?a=1":   "more than scheme and host",
		"https://host.example?":       "more than scheme and host",
		"https://host.example#":       "more than scheme and host",
		"https://ann@host.example":    "more than scheme and host",
		"https://höst.example":        "cannot stand on a label",
		"https://ho_st.example":       "cannot stand on a label",
		"https://-host.example":       "cannot stand on a label",
		"https://host..example":       "cannot stand on a label",
		"https://192.168.1.20":        "number address",
		"https://[2001:db8::1]":       "cannot stand on a label",
		"https://host.example:":       "colon without a port",
		"https://host.example:0":      "between 1 and 65535",
		"https://host.example:99999":  "between 1 and 65535",
		"https://host.example:1x":     "not an address",
		"https://host.example/%2e%2e": "more than scheme and host",
	} {
		_, err := ParseBase(base, false)
		require.ErrorContains(t, err, says, base)
	}
}

// FuzzParseBase: what is accepted gives an address that the standard library reads back as
// the same scheme and host with the path of a device.
func FuzzParseBase(f *testing.F) {
	for _, s := range []string{"https://host.example", "http://192.168.1.20:8080/", "https://[::1]",
		"https://a:b@c", "https://host.example:0443", "HTTPS://X-y.Z"} {
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, text string, allowHTTP bool) {
		base, err := ParseBase(text, allowHTTP)
		if err != nil {
			return
		}
		require.True(t, base.Secure() || allowHTTP)
		u, err := url.Parse(base.Address("7M2N4P6R8S0T2W5YH"))
		require.NoError(t, err)
		was, err := url.Parse(strings.TrimSpace(text))
		require.NoError(t, err)
		require.True(t, strings.EqualFold(was.Host, u.Host))
		require.Equal(t, strings.ToLower(was.Scheme), u.Scheme)
		require.Equal(t, "/D/7M2N4P6R8S0T2W5YH", u.Path)
		require.Empty(t, u.RawQuery+u.Fragment)
		again, err := ParseBase(base.String(), allowHTTP)
		require.NoError(t, err)
		require.Equal(t, base, again)
	})
}
