
d-now.o:     file format elf32-littlearm


Disassembly of section .text.hut_supply_thermistor_long_division:

00000000 <hut_supply_thermistor_long_division>:
push	{r4, r5, r6, lr}
cmp	r1, r0
bcs.n	36 <hut_supply_thermistor_long_division+0x36>
movs	r3, #16
movs	r6, #1
movs	r5, #1
sxth	r4, r2
lsls	r1, r1, #1
cmp	r4, #0
bge.n	16 <hut_supply_thermistor_long_division+0x16>
orrs	r1, r6
lsls	r2, r2, #1
uxth	r2, r2
cmp	r0, r1
bhi.n	24 <hut_supply_thermistor_long_division+0x24>
orrs	r2, r5
subs	r1, r1, r0
uxth	r2, r2
subs	r3, #1
uxtb	r3, r3
cmp	r3, #0
bne.n	c <hut_supply_thermistor_long_division+0xc>
lsls	r1, r1, #1
cmp	r1, r0
adcs	r3, r3
adds	r0, r2, r3
pop	{r4, r5, r6, pc}
movs	r0, #128	
lsls	r0, r0, #9
b.n	34 <hut_supply_thermistor_long_division+0x34>

Disassembly of section .text.hut_supply_thermistor_refined_rarely:

00000000 <hut_supply_thermistor_refined_rarely>:
movs	r2, #128	
push	{r4, r5, lr}
ldr	r4, [r1, #0]
ldr	r1, [r1, #8]
sub	sp, #20
str	r4, [sp, #4]
str	r1, [sp, #12]
lsls	r2, r2, #17
cmp	r0, r2
bcs.n	68 <hut_supply_thermistor_refined_rarely+0x68>
movs	r5, #7
lsrs	r3, r4, #21
ands	r3, r5
lsls	r1, r1, #3
lsls	r0, r0, #3
orrs	r1, r3
lsls	r4, r4, #3
cmp	r0, r2
bcc.n	16 <hut_supply_thermistor_refined_rarely+0x16>
str	r1, [sp, #12]
str	r4, [sp, #4]
ldr	r3, [pc, #84]	
lsrs	r2, r0, #20
ldrb	r2, [r2, r3]
add	r3, sp, #4
lsrs	r1, r0, #1
muls	r1, r2
negs	r1, r1
lsrs	r1, r1, #15
muls	r2, r1
lsrs	r2, r2, #8
ldr	r1, [r3, #8]
ldr	r3, [r3, #0]
muls	r1, r2
lsrs	r1, r1, #16
mov	ip, r1
muls	r1, r0
subs	r3, r3, r1
lsrs	r1, r3, #16
muls	r1, r2
lsrs	r1, r1, #24
movs	r2, r1
muls	r2, r0
subs	r3, r3, r2
lsrs	r0, r0, #1
cmp	r3, r0
mov	r0, ip
adcs	r0, r1
lsls	r0, r0, #16
lsrs	r0, r0, #16
add	sp, #20
pop	{r4, r5, pc}
movs	r3, #128	
lsls	r3, r3, #20
cmp	r0, r3
bcc.n	2a <hut_supply_thermistor_refined_rarely+0x2a>
uxth	r2, r4
lsls	r4, r4, #8
lsrs	r4, r4, #24
lsls	r1, r1, #8
orrs	r1, r4
bl	0 <hut_supply_thermistor_refined_rarely>
b.n	64 <hut_supply_thermistor_refined_rarely+0x64>
.word	0xfffffff0

Disassembly of section .text.vo:

00000000 <vo>:
ldr	r3, [pc, #132]	
ldr	r2, [pc, #136]	
adds	r3, r0, r3
push	{r4, r5, lr}
movs	r4, r1
cmp	r3, r2
bls.n	24 <vo+0x24>
cmp	r0, #0
beq.n	72 <vo+0x72>
movs	r3, #0
ldr	r2, [pc, #120]	
cmp	r2, r0
adcs	r3, r3
movs	r0, #2
negs	r3, r3
ands	r0, r3
adds	r0, #2
pop	{r4, r5, pc}
lsls	r0, r3, #11
ldr	r3, [pc, #108]	
mov	ip, r3
add	r0, ip
lsrs	r3, r0, #20
subs	r3, #16
cmp	r3, #111	
bhi.n	76 <vo+0x76>
ldr	r1, [pc, #96]	
movs	r2, r1
ldrb	r3, [r1, r3]
adds	r2, #112	
lsrs	r5, r0, #1
muls	r5, r3
negs	r5, r5
lsrs	r5, r5, #15
muls	r3, r5
lsrs	r3, r3, #8
ldr	r5, [r2, #8]
ldr	r2, [r2, #0]
muls	r5, r3
lsrs	r5, r5, #16
mov	ip, r5
muls	r5, r0
subs	r2, r2, r5
lsrs	r5, r2, #16
muls	r5, r3
lsrs	r5, r5, #24
movs	r3, r5
muls	r3, r0
subs	r2, r2, r3
lsrs	r0, r0, #1
cmp	r2, r0
mov	r0, ip
adcs	r0, r5
uxth	r0, r0
strh	r0, [r4, #0]
movs	r0, #0
b.n	22 <vo+0x22>
movs	r0, #1
b.n	22 <vo+0x22>
ldr	r1, [pc, #36]	
ldr	r2, [pc, #36]	
push	{r3, lr}
blx	r2
pop	{r2, r3}
mov	lr, r3
uxth	r0, r0
b.n	6c <vo+0x6c>
nop			
.word	0xfffffb57
.word	0x0000fb46
.word	0x0000ffef
.word	0x00258800
.word	0x00000000
.word	0x00000070
.word	0x00000000

Disassembly of section .text.cv:

00000000 <cv>:
movs	r3, r0
push	{r4, r5, lr}
movs	r4, r2
ldrh	r5, [r3, #12]
ldrh	r2, [r0, #8]
subs	r0, r1, r2
cmp	r0, r5
bcs.n	6c <cv+0x6c>
ldr	r2, [r3, #44]	
adds	r3, #32
lsls	r0, r2
ldr	r2, [r3, #4]
movs	r1, r3
adds	r0, r0, r2
lsrs	r3, r0, #20
subs	r3, #16
cmp	r3, #111	
bhi.n	5e <cv+0x5e>
ldr	r2, [pc, #96]	
ldrb	r3, [r2, r3]
lsrs	r2, r0, #1
muls	r2, r3
negs	r2, r2
lsrs	r2, r2, #15
muls	r3, r2
lsrs	r3, r3, #8
ldr	r2, [r1, #8]
ldr	r1, [r1, #0]
muls	r2, r3
lsrs	r2, r2, #16
mov	ip, r2
muls	r2, r0
subs	r1, r1, r2
lsrs	r2, r1, #16
muls	r2, r3
lsrs	r2, r2, #24
movs	r3, r2
muls	r3, r0
subs	r1, r1, r3
lsrs	r0, r0, #1
cmp	r1, r0
mov	r0, ip
adcs	r0, r2
uxth	r0, r0
strh	r0, [r4, #0]
movs	r0, #0
pop	{r4, r5, pc}
ldr	r2, [pc, #44]	
push	{r3, lr}
blx	r2
pop	{r2, r3}
mov	lr, r3
uxth	r0, r0
b.n	58 <cv+0x58>
cmp	r1, #0
beq.n	80 <cv+0x80>
ldr	r3, [pc, #28]	
cmp	r1, r3
bhi.n	84 <cv+0x84>
cmp	r1, r2
sbcs	r1, r1
negs	r0, r1
adds	r0, #3
b.n	5c <cv+0x5c>
movs	r0, #1
b.n	5c <cv+0x5c>
movs	r0, #2
b.n	5c <cv+0x5c>
	...
.word	0x0000ffef
