package labels

import (
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
		require.Equal(t, KindDevice, kind)
		require.Equal(t, Code("7M2N4P6R8S0T2W5YH"), code)
	}
	b, err := ParseBase("https://host.example", false)
	require.NoError(t, err)
	require.True(t, b.Secure())
	require.Equal(t, "https://HOST.EXAMPLE/S/7M2N4P6R8S0T2W5YH", b.SlipAddress("7M2N4P6R8S0T2W5YH"))
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
