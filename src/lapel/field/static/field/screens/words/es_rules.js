/**
 * What our rule books say of a number, in Spanish: found by the English. A firm's own rule book is shown as it is written.
 *
 * @type {Record<string, string>}
 */
export const ES_RULES = {
  // flow before and after
  'flagged; many methods treat the sample as invalid from here':
    'marcada; muchos métodos tratan la muestra como no válida desde aquí',
  'for screening: the 5 % inside the sampling and analytical error no longer covers the flow':
    'solo orientativo: el 5 % dentro del error de muestreo y análisis ya no cubre el caudal',
  invalid: 'no válida',
  'mean flow used, for screening; not for a compliance decision on its own':
    'se usa el caudal medio, a título orientativo; no basta por sí solo para decidir el cumplimiento',
  'pump outside what the standard asks of it; mean used, drift carried as uncertainty':
    'bomba fuera de lo que le pide la norma; se usa la media, y la deriva se lleva como incertidumbre',
  'the flow was inconsistent: the volume cannot be determined':
    'el caudal no fue constante: no se puede determinar el volumen',
  'the pump did not hold its flow; mean used, the drift is carried as uncertainty':
    'la bomba no mantuvo su caudal; se usa la media, y la deriva se lleva como incertidumbre',
  'the volume is not known well enough for a compliance decision':
    'el volumen no se conoce lo bastante bien para decidir el cumplimiento',
  'the volume is not known well enough for a decision': 'el volumen no se conoce lo bastante bien para decidir',
  'this house samples again': 'en esta casa se mide otra vez',
  'void for a compliance decision': 'nula para decidir el cumplimiento',
  'Discard for the decision, keep the record, sample again.':
    'No la use para la decisión, conserve el registro, mida otra vez.',
  'Have the pump seen to. Look for the cause (tube, tubing, valve, battery) and name it.':
    'Haga revisar la bomba. Busque la causa (tubo, manguera, válvula, batería) y nómbrela.',
  'Have the pump seen to. Sample again where the decision hangs on this result.':
    'Haga revisar la bomba. Mida otra vez donde la decisión dependa de este resultado.',
  'Look for the cause (tube, tubing, valve, battery) and name it. Sample again where the decision hangs on this result.':
    'Busque la causa (tubo, manguera, válvula, batería) y nómbrela. Mida otra vez donde la decisión dependa de este resultado.',
  'Read the clause of the method you follow. Sample again where it says invalid.':
    'Lea la cláusula del método que sigue. Mida otra vez donde diga no válida.',
  'Sample again. Check tube, tubing, valve and battery of this train before its next use.':
    'Mida otra vez. Revise tubo, manguera, válvula y batería de este tren antes de volver a usarlo.',
  'Take the flow that favours neither conclusion, show both, and sample again before alleging or denying an over-exposure.':
    'Tome el caudal que no favorezca ninguna conclusión, muestre ambos, y mida otra vez antes de afirmar o negar una sobreexposición.',
  'the flow after says nothing about the flow while the sampler hung':
    'el caudal de después no dice nada del caudal con el captador puesto',
  'Sample again, unless the flow just before the valve was touched is on record: then enter it as a segment of its own.':
    'Mida otra vez, salvo que conste el caudal justo antes de tocar la válvula: entonces anótelo como tramo propio.',

  // readings and meter
  'the flow itself is unsteady or the meter is at fault': 'el propio caudal es inestable o falla el medidor',
  'wider than good readings are': 'más dispersas que unas buenas lecturas',
  'Repeat the reading if the train is untouched. Otherwise carry the spread as uncertainty and say so.':
    'Repita la lectura si el tren sigue sin tocar. Si no, lleve la dispersión como incertidumbre y dígalo.',
  "Nothing now; look at the meter's film or piston and the tubing before the next use.":
    'Nada por ahora; mire la película o el pistón del medidor y la manguera antes de volver a usarlo.',
  'one reading cannot show whether it repeats': 'una sola lectura no puede mostrar si se repite',
  'the repeatability of the flow is little known; a stated default stands in for one reading':
    'la repetibilidad del caudal se conoce poco; para una sola lectura se usa un valor por defecto declarado',
  'Take at least two readings next time.': 'La próxima vez haga al menos dos lecturas.',
  'Take three readings next time.': 'La próxima vez haga tres lecturas.',
  'the certificate says nothing about a reading out there': 'el certificado no dice nada de una lectura tan fuera',
  'Read again with a meter whose certificate covers this flow, if the train is untouched.':
    'Lea otra vez con un medidor cuyo certificado cubra este caudal, si el tren sigue sin tocar.',
  'the flow rests on a meter whose certificate had run out':
    'el caudal se apoya en un medidor con el certificado vencido',
  'this house does not use a flow from such a meter': 'en esta casa no se usa el caudal de un medidor así',
  "Have the meter certified as found. If it is found good, override this finding with that certificate's number.":
    'Haga certificar el medidor tal como está. Si resulta bueno, anule este hallazgo con el número de ese certificado.',
  'Have the meter certified as found; sample again.': 'Haga certificar el medidor tal como está; mida otra vez.',

  // flow and volume beside the method
  'outside the range the method was tested in': 'fuera del intervalo en que se ensayó el método',
  'outside the range the method was tested in; the sampler may have let some through':
    'fuera del intervalo en que se ensayó el método; el captador puede haber dejado pasar una parte',
  'Ask the laboratory whether the method holds at this flow.': 'Pregunte al laboratorio si el método vale a este caudal.',
  'Look at the back section. Ask the laboratory whether the method holds at this flow.':
    'Mire la sección posterior. Pregunte al laboratorio si el método vale a este caudal.',
  'little was collected; the reporting limit in air is higher for it':
    'se captó poco; el límite de notificación en aire es más alto por ello',
  'Hold the reporting limit of this sample against the exposure limit.':
    'Compare el límite de notificación de esta muestra con el límite de exposición.',
  'some may have passed through the sampler': 'una parte puede haber pasado por el captador',
  'Look at the back section. Plan a smaller flow or a tube change next time.':
    'Mire la sección posterior. La próxima vez planifique menos caudal o un cambio de tubo.',
  'diffusion into the open sampler adds some 10 % to what was drawn; the result reads high':
    'la difusión hacia el captador abierto añade cerca de un 10 % a lo aspirado; el resultado sale alto',
  'diffusion into the open sampler adds some percent, and pump standards stop here':
    'la difusión hacia el captador abierto añade un tanto por ciento, y aquí acaban las normas de bombas',
  'outside the scope of the pump standard; diffusion into the open sampler adds some percent':
    'fuera del campo de aplicación de la norma de bombas; la difusión hacia el captador abierto añade un tanto por ciento',
  'Plan more flow through this port next time.': 'La próxima vez planifique más caudal por esta toma.',
  'Sample again with more flow where the decision hangs on this result.':
    'Mida otra vez con más caudal donde la decisión dependa de este resultado.',
  'the valve of the small port is nearly shut: unsteady, and at the mercy of dirt and temperature':
    'la válvula de la toma pequeña está casi cerrada: inestable, y a merced de la suciedad y la temperatura',
  'Put the small flow on a pump of its own next time.': 'La próxima vez ponga el caudal pequeño en una bomba propia.',
  'the method says nothing about this medium': 'el método no dice nada de este soporte',
  'Ask the laboratory whether a method for this medium holds; otherwise sample again.':
    'Pregunte al laboratorio si vale un método para este soporte; si no, mida otra vez.',
  'the method does not see well enough far below the limit': 'el método no ve lo bastante bien muy por debajo del límite',
  'the result can hardly tell under from over': 'el resultado apenas distingue por debajo de por encima',
  'Plan a larger volume next time, or ask for a lower reporting limit.':
    'La próxima vez planifique más volumen, o pida un límite de notificación más bajo.',
  'Sample again with a larger volume or a more sensitive method.':
    'Mida otra vez con más volumen o con un método más sensible.',
  'what the sampler held and how clean it was is not assured': 'no está asegurado qué retenía el captador ni lo limpio que estaba',
  "Sample again. The maker's word on the lot may support an override.":
    'Mida otra vez. La palabra del fabricante sobre el lote puede justificar una anulación.',

  // time
  'one of the two times is wrong, and the volume with it': 'uno de los dos tiempos está mal, y con él el volumen',
  'the sampled time is not known': 'no se conoce el tiempo muestreado',
  'Explain the difference by an entry, or sample again.': 'Explique la diferencia con una anotación, o mida otra vez.',
  'Find which, and enter the missing entry or correct the wrong one the same day.':
    'Averigüe cuál, y ese mismo día anote lo que falta o corrija lo equivocado.',
  'Find which: a hold, a fault, a start typed wrongly. Enter the missing entry or correct the wrong one.':
    'Averigüe cuál: una pausa, una avería, un inicio mal escrito. Anote lo que falta o corrija lo equivocado.',
  'a fault in between would have gone unseen': 'una avería entre medias habría pasado sin verse',
  'an early stop would have gone unseen for so long': 'una parada temprana habría pasado sin verse tanto tiempo',
  'Hold clock against counter. Plan the rounds next time.':
    'Compare reloj y contador. La próxima vez planifique las revisiones.',
  'Look soon after the start next time.': 'La próxima vez revise poco después del inicio.',
  'a long part of the shift is not sampled, and an idle open tube takes up some 0.6 mL a minute by diffusion':
    'una parte larga del turno no se muestrea, y un tubo abierto sin aspirar capta unos 0.6 mL por minuto por difusión',
  'the time on hold is not sampled, and an idle open tube takes up a little by diffusion':
    'el tiempo en pausa no se muestrea, y un tubo abierto sin aspirar capta un poco por difusión',
  'Check that the reason for the hold is recorded.': 'Compruebe que está anotado el motivo de la pausa.',
  'State the treatment of this time; cap the sampler during long holds.':
    'Diga cómo se trata este tiempo; tape el captador en las pausas largas.',
  'stands for the shift only where an appraiser judged tasks and factors constant':
    'representa el turno solo donde un evaluador juzgó constantes las tareas y los factores',
  'the 8-hour average counts the rest as no exposure: a least value':
    'la media de 8 horas cuenta el resto como sin exposición: un valor mínimo',
  'the average leans on what is assumed for the rest of the shift':
    'la media se apoya en lo que se supone para el resto del turno',
  'Record that judgement with its reason and override this finding, or sample the whole shift.':
    'Anote ese juicio con su motivo y anule este hallazgo, o mida el turno entero.',
  'Show the average with and without the rest; sample a whole shift before denying an over-exposure.':
    'Muestre la media con y sin el resto; mida un turno entero antes de negar una sobreexposición.',
  'Show the average with each treatment of the rest; sample a whole shift where they disagree.':
    'Muestre la media con cada forma de tratar el resto; mida un turno entero donde no concuerden.',
  'some 15 minutes inside the sample may have averaged more than this mean':
    'unos 15 minutos dentro de la muestra pueden haber promediado más que esta media',
  'the highest average over the averaging time may lie above this mean':
    'el mayor promedio del periodo de referencia puede estar por encima de esta media',
  'Over as a longer mean is over; under is not yet under. Sample again over 15 minutes.':
    'Por encima en una media más larga es por encima; por debajo no es aún por debajo. Mida otra vez durante 15 minutos.',
  'Over the limit as a longer mean is over the limit; under it is not yet under. Sample again over the averaging time.':
    'Por encima del límite en una media más larga es por encima; por debajo no es aún por debajo. Mida otra vez durante el periodo de referencia.',
  'the rest of the averaging time is unknown: counted as nothing it gives a least value, counted like the sampled time a larger one':
    'el resto del periodo de referencia no se conoce: contado como nada da un valor mínimo; contado como lo muestreado, uno mayor',
  'Sample again over the whole averaging time where both do not lead to one verdict.':
    'Mida otra vez todo el periodo de referencia donde ambos no lleven al mismo veredicto.',

  // the train
  'a battery may not hold the flow to the end of the shift':
    'una batería puede no mantener el caudal hasta el fin del turno',
  'Look at the flow after. Charge the evening before next time.':
    'Mire el caudal de después. La próxima vez cargue la víspera.',
  'the flow may have moved after it was set': 'el caudal puede haberse movido después de ajustarlo',
  'Look at the change of flow; warm up longer next time.':
    'Mire el cambio de caudal; la próxima vez caliente más tiempo.',
  'the pump drew air that did not pass the sampler': 'la bomba aspiró aire que no pasó por el captador',
  'Find the leak and sample again. If it was mended before the run, record the check that passed.':
    'Busque la fuga y mida otra vez. Si se arregló antes del muestreo, anote el ensayo superado.',

  // where it stands
  'open practitioner note with three tiers; no authority': 'nota abierta de un profesional con tres escalones; sin autoridad',
  'good practice': 'buena práctica',
  'chapter D, calibration (one and at least two more)': 'capítulo D, calibración (una y al menos dos más)',
  'OSHA Technical Manual, section II chapter 1': 'OSHA Technical Manual, sección II, capítulo 1',
  'Appendix F (within its prescribed calibration interval)': 'apéndice F (dentro de su periodo de calibración)',
  'the method named with the sample': 'el método indicado con la muestra',
  'sampling, flow rate': 'muestreo, caudal',
  'NIOSH Manual of Analytical Methods; ISO 13137 (scope above 10 mL/min)': 'NIOSH Manual of Analytical Methods; ISO 13137 (campo de aplicación por encima de 10 mL/min)',
  'chapter on the evaluation of methods (diffusion near 5 mL/min)': 'capítulo sobre la evaluación de métodos (difusión cerca de 5 mL/min)',
  'sampling, volume': 'muestreo, volumen',
  '29 CFR 1915.1000(a)(1), same wording in 1910.1000; EN 689 (15 min)': '29 CFR 1915.1000(a)(1), mismo texto en 1910.1000; EN 689 (15 min)',
  'average over 15 minutes': 'promedio de 15 minutos',
  'bubble-meter procedure': 'procedimiento del burbujímetro',
  'checks of the pump': 'revisiones de la bomba',
  'checks of the pump (every 2 hours)': 'revisiones de la bomba (cada 2 horas)',
  'partial-period samples (70 to 80 %)': 'muestras de parte del periodo (70 a 80 %)',
  'shelf life of sampling media (appendix)': 'vida útil de los soportes (apéndice)',
  'sampler': 'captador',
  'measuring range from 0.1 times the limit': 'intervalo de medida desde 0.1 veces el límite',
  'OSHA compliance practice; pump error taken as 5 % inside the sampling and analytical error': 'práctica de cumplimiento de OSHA; error de la bomba tomado como un 5 % dentro del error de muestreo y análisis',
  'OSHA Technical Manual, section II chapter 1; a county plan built on it averages beyond 5 % and wants the pump within 10 %': 'OSHA Technical Manual, sección II, capítulo 1; un plan de condado basado en él promedia por encima del 5 % y pide la bomba dentro del 10 %',
  'bubble-meter procedure (two timed bubbles)': 'procedimiento del burbujímetro (dos burbujas cronometradas)',
  '29 CFR 1915.1000(a)(1), same in 1910.1000': '29 CFR 1915.1000(a)(1), igual en 1910.1000',
  'any 15 minutes; a ceiling that cannot be read instantly likewise': '15 minutos cualesquiera; igual para un valor techo que no se puede leer al instante',
  'OSHA letter of interpretation, 23 January 1997': 'carta de interpretación de OSHA, 23 de enero de 1997',
  'at least 7 of 8 hours': 'al menos 7 de 8 horas',
  'chapter D (a pump holds its flow within 5 % from low to high load); tube instructions (discard where the volume cannot be determined)': 'capítulo D (una bomba mantiene su caudal dentro del 5 % de carga baja a alta); instrucciones de los tubos (desechar si no se puede determinar el volumen)',
  'three-tier house rule; the manual says discard and gives no number': 'regla interna de tres escalones; el manual dice desechar y no da número',
  'flow stability over the operating time (5 % of the initial flow)': 'estabilidad del caudal durante el funcionamiento (5 % del caudal inicial)',
  'scope (nominal flow above 10 mL/min)': 'campo de aplicación (caudal nominal por encima de 10 mL/min)',
  'chapter on the evaluation of methods': 'capítulo sobre la evaluación de métodos',
  'safe sampling volume (two thirds to 70 % of the breakthrough volume)': 'volumen seguro de muestreo (de dos tercios al 70 % del volumen de ruptura)',
  'measurement duration (as close to the shift as possible; the share is judgement)': 'duración de la medición (lo más cercana posible al turno; la parte es criterio profesional)',
  'MDHS series and HSG173 practice': 'serie MDHS y práctica de HSG173',
  'flow at the end of sampling (5 % for vapours; some particle methods 10 %)': 'caudal al final del muestreo (5 % para vapores; algunos métodos de partículas, 10 %)',
  "house procedure, after a consultant's instruction page": 'procedimiento interno, según la hoja de instrucciones de un consultor',
  'flow': 'caudal',
  'house procedure': 'procedimiento interno',
  'equipment': 'equipo',
  'time': 'tiempo',
};
