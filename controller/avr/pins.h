/* pins: which pin of the chip does what. The four coils of each motor are adjacent on one port,
 * in order of rotation; switches pull to ground, against pull-ups in the chip.
 *
 * The servo is on an output of the 16-bit timer, whose compare hardware sets both edges of the
 * pulse. */
#pragma once

#if defined(__AVR_ATmega328P__)

#define USART0_RX_vect USART_RX_vect
#define USART0_UDRE_vect USART_UDRE_vect

#define DT_X_PORT PORTD /* PD4 to PD7 */
#define DT_X_DDR DDRD
#define DT_X_SHIFT 4
#define DT_Y_PORT PORTC /* PC0 to PC3 */
#define DT_Y_DDR DDRC
#define DT_Y_SHIFT 0
#define DT_SERVO_DDR DDRB
#define DT_SERVO_PIN 2 /* PB2, OC1B */
#define DT_SWITCH_PORT PORTD
#define DT_SWITCH_PINS PIND
#define DT_SWITCH_X 2 /* PD2, INT0 */
#define DT_SWITCH_Y 3 /* PD3, INT1 */
#define DT_EDGE_X_vect INT0_vect
#define DT_EDGE_Y_vect INT1_vect
#define DT_EDGE_X 0 /* its bit in EIMSK and EIFR */
#define DT_EDGE_MODES EICRA
#define DT_EDGE_BOTH (1 << ISC10 | 1 << ISC00) /* any change */

#elif defined(__AVR_ATmega2560__)

#define DT_X_PORT PORTA /* PA0 to PA3 */
#define DT_X_DDR DDRA
#define DT_X_SHIFT 0
#define DT_Y_PORT PORTC /* PC0 to PC3 */
#define DT_Y_DDR DDRC
#define DT_Y_SHIFT 0
#define DT_SERVO_DDR DDRB
#define DT_SERVO_PIN 6 /* PB6, OC1B */
#define DT_SWITCH_PORT PORTE
#define DT_SWITCH_PINS PINE
#define DT_SWITCH_X 4 /* PE4, INT4 */
#define DT_SWITCH_Y 5 /* PE5, INT5 */
#define DT_EDGE_X_vect INT4_vect
#define DT_EDGE_Y_vect INT5_vect
#define DT_EDGE_X 4 /* its bit in EIMSK and EIFR */
#define DT_EDGE_MODES EICRB
#define DT_EDGE_BOTH (1 << ISC50 | 1 << ISC40) /* any change */

#else
#error "pins.h has no pins for this chip"
#endif
