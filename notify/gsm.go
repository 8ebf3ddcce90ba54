package notify

// gsmBasic is the GSM 7 bit default alphabet, 3GPP TS 23.038 section 6.2.1:
// the position of a character is its code. 0x1B is the escape to the
// extension table and stands for no character.
var gsmBasic = []rune("@£$¥èéùìòÇ\nØø\rÅå" +
	"Δ_ΦΓΛΩΠΨΣΘΞ\x1bÆæßÉ" +
	" !\"#¤%&'()*+,-./0123456789:;<=>?" +
	"¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§" +
	"¿abcdefghijklmnopqrstuvwxyzäöñüà")

// gsmEscape leads into the extension table.
const gsmEscape = 0x1b

// gsmExtension is the default alphabet extension table, 3GPP TS 23.038
// section 6.2.1.1. Each of its characters is sent as escape and code.
var gsmExtension = map[rune]byte{
	'\f': 0x0a,
	'^':  0x14,
	'{':  0x28,
	'}':  0x29,
	'\\': 0x2f,
	'[':  0x3c,
	'~':  0x3d,
	']':  0x3e,
	'|':  0x40,
	'€':  0x65,
}

// gsmSeptets tells how many septets each character takes, up to the highest of
// the alphabet, the euro sign; 0: it is not in it.
var gsmSeptets = func() (t ['\u20ac' + 1]uint8) {
	for code, r := range gsmBasic {
		if code != gsmEscape {
			t[r] = 1
		}
	}
	for r := range gsmExtension {
		t[r] = 2
	}
	return t
}()

func septets(r rune) int {
	if int(r) >= len(gsmSeptets) {
		return 0
	}
	return int(gsmSeptets[r])
}
