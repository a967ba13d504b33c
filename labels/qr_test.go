package labels

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCapacities: characters that fit, alphanumeric and byte mode, ISO/IEC 18004 table 7;
// versions 1 to 4 alphanumeric agree with
// docs.real.com/access/guides/features/qr_codes/qr_codes_3.html.
func TestCapacities(t *testing.T) {
	type pair struct{ alnum, bytes int }
	table := map[Level][]pair{
		LevelL: {{25, 17}, {47, 32}, {77, 53}, {114, 78}, {154, 106}, {195, 134}},
		LevelM: {{20, 14}, {38, 26}, {61, 42}, {90, 62}, {122, 84}, {154, 106}},
		LevelQ: {{16, 11}, {29, 20}, {47, 32}, {67, 46}, {87, 60}, {108, 74}},
		LevelH: {{10, 7}, {20, 14}, {35, 24}, {50, 34}, {64, 44}, {84, 58}},
	}
	for level, row := range table {
		for i, p := range row {
			require.Equal(t, i+1, versionOf(t, strings.Repeat("A", p.alnum), level))
			require.Equal(t, i+2, versionOf(t, strings.Repeat("A", p.alnum+1), level))
			require.Equal(t, i+1, versionOf(t, strings.Repeat("a", p.bytes), level))
			require.Equal(t, i+2, versionOf(t, strings.Repeat("a", p.bytes+1), level))
		}
	}
}

func versionOf(t *testing.T, text string, level Level) int {
	t.Helper()
	m, err := Matrix(text, level)
	require.NoError(t, err)
	require.Len(t, m, Modules(Version(m)))
	for _, row := range m {
		require.Len(t, row, len(m))
	}
	return Version(m)
}

// TestLabelAddressVersions: the sizes measured for the address form that was chosen, 40
// signs: v2 at L, v3 at M and Q, v4 at H.
func TestLabelAddressVersions(t *testing.T) {
	address := "https://HOST.EXAMPLE/D/7M2N4P6R8S0T2W5YH"
	require.Len(t, address, 40)
	for level, version := range map[Level]int{LevelL: 2, LevelM: 3, LevelQ: 3, LevelH: 4} {
		require.Equal(t, version, versionOf(t, address, level), level)
	}
}

func TestMatrixHasNoBorder(t *testing.T) {
	m, err := Matrix("A", LevelM)
	require.NoError(t, err)
	require.Len(t, m, 21)
	for i := range 7 { // the finder pattern touches the corner
		require.True(t, m[0][i])
		require.True(t, m[i][0])
	}
	require.False(t, m[7][7])
}

func TestMatrixRefuses(t *testing.T) {
	_, err := Matrix("A", "X")
	require.ErrorContains(t, err, "use L, M, Q or H")
	_, err = Matrix("", LevelM)
	require.ErrorContains(t, err, "no QR symbol")
	_, err = Matrix(strings.Repeat("a", 3000), LevelM)
	require.ErrorContains(t, err, "shorten it")
}

func TestModuleSizes(t *testing.T) {
	// 18.5 mm box, version 3: 0.500 mm, and 4 dots of a 203 dpi head (table of sizes).
	require.Equal(t, Millimetres(0.5), ModuleIn(18.5, Modules(3)))
	require.Equal(t, Millimetres(0.5), 4*DPI(203).Dot())
	require.InDelta(t, 0.508, float64(6*DPI(300).Dot()), 0.0005)
	require.InDelta(t, 0.508, float64(12*DPI(600).Dot()), 0.0005)
	require.Equal(t, "18.5 mm", Millimetres(18.5).String())
}
