# The letters: Latin as in the other font's range, Japanese punctuation, kana, full-width forms, and JIS X 0208's first level of kanji.
import sys
chars=set(range(0x20,0x7f))|set(range(0xa0,0x180))|{0x2010,0x2013,0x2014,0x2018,0x2019,0x201c,0x201d,0x2026,0x2030,0x202f,0x20ac,0xa5,0xd7,0x2212,0x25b8,0x25c2,0x2192,0x25b3,0x25bd}
chars|=set(range(0x3000,0x3100))|set(range(0xff01,0xffef))
for row in range(16,48):
    for cell in range(1,95):
        try: chars.add(ord(bytes([row+0xa0,cell+0xa0]).decode('euc_jp')))
        except UnicodeDecodeError: pass
print(','.join('U+%04X'%c for c in sorted(chars)))
