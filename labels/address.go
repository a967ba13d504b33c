package labels

import (
	"fmt"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
)

// Base is the scheme and host that are printed on labels for years. It comes from the
// configuration only, never from a request.
type Base struct {
	scheme string // "https", or "http" where the caller allowed it
	host   string // host and port, upper case
}

// ParseBase reads a base address such as https://label.clinic.example. It refuses a path, a
// query, a user name, signs that a host does not have, a number address on https (a label
// outlives it), and plain http unless allowHTTP says that this is a demonstration.
func ParseBase(text string, allowHTTP bool) (Base, error) {
	u, err := url.Parse(strings.TrimSpace(text))
	if err != nil || u.Host == "" {
		return Base{}, fmt.Errorf("the base address %q is not an address: "+
			"write it like https://label.clinic.example", text)
	}
	if err := checkScheme(u, allowHTTP); err != nil {
		return Base{}, err
	}
	if u.User != nil || u.RawQuery != "" || u.ForceQuery || u.Fragment != "" ||
		strings.Contains(text, "#") || (u.Path != "" && u.Path != "/") {
		return Base{}, fmt.Errorf("the base address %q has more than scheme and host: "+
			"write it like https://label.clinic.example", text)
	}
	if err := checkHost(u); err != nil {
		return Base{}, err
	}
	return Base{scheme: strings.ToLower(u.Scheme), host: strings.ToUpper(u.Host)}, nil
}

func checkScheme(u *url.URL, allowHTTP bool) error {
	switch {
	case strings.EqualFold(u.Scheme, "https"):
		return nil
	case strings.EqualFold(u.Scheme, "http") && allowHTTP:
		return nil
	case strings.EqualFold(u.Scheme, "http"):
		return fmt.Errorf("the base address begins with http: labels for real use need https")
	}
	return fmt.Errorf("the base address begins with %q: it must begin with https", u.Scheme)
}

func checkHost(u *url.URL) error {
	const fine = "abcdefghijklmnopqrstuvwxyz0123456789.-"
	host := strings.ToLower(u.Hostname())
	bad := strings.IndexFunc(host, func(r rune) bool { return !strings.ContainsRune(fine, r) })
	if host == "" || bad >= 0 || host[0] == '.' || host[0] == '-' || strings.Contains(host, "..") {
		return fmt.Errorf("the host %q cannot stand on a label: "+
			"use a name of letters a to z, figures, points and hyphens", u.Hostname())
	}
	if _, err := netip.ParseAddr(host); err == nil && strings.EqualFold(u.Scheme, "https") {
		return fmt.Errorf("the host %s is a number address, which changes while labels stay: "+
			"use a name", host)
	}
	if strings.HasSuffix(u.Host, ":") {
		return fmt.Errorf("the base address %q has a colon without a port: leave it away", u.Host)
	}
	if port := u.Port(); port != "" {
		if n, err := strconv.Atoi(port); err != nil || n < 1 || n > 65535 {
			return fmt.Errorf("the port %s is not between 1 and 65535", port)
		}
	}
	return nil
}

// String writes the base as on labels: scheme in lower case, because several phones do not
// open a link that begins with capitals; the rest in upper case, which makes the symbol small.
func (b Base) String() string { return b.scheme + "://" + b.host }

// Host is the host, with its port where it has one, upper case.
func (b Base) Host() string { return b.host }

// Secure says whether the base is https.
func (b Base) Secure() bool { return b.scheme == "https" }

// Address is the text of every symbol: of a device, a container, a slip or a blank. One form for
// all, so that what is printed tells nothing; what a code belongs to is decided by the record.
func (b Base) Address(c Code) string { return b.String() + "/D/" + string(c) }

// Address writes the address of a code under a base address as configured; see ParseBase.
func Address(base string, c Code, allowHTTP bool) (string, error) {
	b, err := ParseBase(base, allowHTTP)
	if err != nil {
		return "", err
	}
	if !c.Valid() {
		return "", fmt.Errorf("%q is no code: its check letter does not fit", string(c))
	}
	return b.Address(c), nil
}
